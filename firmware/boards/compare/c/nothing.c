/* What a call costs, by value, by address (with one load) and in blocks; written for this. */
#include <stdint.h>

float c_nothing(void *s, float x)
{
    (void)s;
    return x;
}

float c_nothing_by_address(void *s, const float *input)
{
    (void)s;
    return input[2];
}

void c_nothing_by_block(const void *s, const float *src, float *dst, uint32_t block)
{
    (void)s;
    (void)src;
    (void)dst;
    (void)block;
}
