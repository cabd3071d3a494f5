/* A cascade of second-order sections in plain C.
 *
 * Written anew for this comparison. Only the structure is that of the published CMSIS-DSP
 * algorithms: an instance with the number of stages and pointers to states and coefficients, a
 * call with source, destination and block size, the stages outside, the samples inside.
 * Five coefficients a stage: b0, b1, b2, -a1, -a2.
 */
#include <stdint.h>

typedef struct {
    uint32_t numStages;
    float *pState;
    const float *pCoeffs;
} biquad_cascade;

/* Direct form I: four states a stage, x[n-1], x[n-2], y[n-1], y[n-2]. */
void c_biquad_df1(const biquad_cascade *restrict s, const float *restrict src, float *restrict dst, uint32_t block)
{
    const float *c = s->pCoeffs;
    float *state = s->pState;
    const float *in = src;
    uint32_t stages = s->numStages;

    do {
        const float b0 = c[0], b1 = c[1], b2 = c[2], a1 = c[3], a2 = c[4];
        float x1 = state[0], x2 = state[1], y1 = state[2], y2 = state[3];
        for (uint32_t n = 0; n < block; n++) {
            const float x = in[n];
            const float y = b0 * x + b1 * x1 + b2 * x2 + a1 * y1 + a2 * y2;
            x2 = x1;
            x1 = x;
            y2 = y1;
            y1 = y;
            dst[n] = y;
        }
        state[0] = x1;
        state[1] = x2;
        state[2] = y1;
        state[3] = y2;
        state += 4;
        c += 5;
        in = dst;
    } while (--stages > 0);
}

/* Direct form II transposed: two states a stage. */
void c_biquad_df2t(const biquad_cascade *restrict s, const float *restrict src, float *restrict dst, uint32_t block)
{
    const float *c = s->pCoeffs;
    float *state = s->pState;
    const float *in = src;
    uint32_t stages = s->numStages;

    do {
        const float b0 = c[0], b1 = c[1], b2 = c[2], a1 = c[3], a2 = c[4];
        float d1 = state[0], d2 = state[1];
        for (uint32_t n = 0; n < block; n++) {
            const float x = in[n];
            const float y = b0 * x + d1;
            d1 = b1 * x + a1 * y + d2;
            d2 = b2 * x + a2 * y;
            dst[n] = y;
        }
        state[0] = d1;
        state[1] = d2;
        state += 2;
        c += 5;
        in = dst;
    } while (--stages > 0);
}

/* By hand for a known number of stages, sample by sample, nothing of an instance. */
#define BY_HAND(stages)                                                                            \
    typedef struct {                                                                               \
        float coeffs[stages][5];                                                                   \
        float state[stages][2];                                                                    \
    } biquad_fixed_##stages;                                                                       \
    float c_biquad_by_hand_##stages(biquad_fixed_##stages *restrict s, float x)                             \
    {                                                                                              \
        for (int i = 0; i < stages; i++) {                                                         \
            const float *c = s->coeffs[i];                                                         \
            float *d = s->state[i];                                                                \
            const float y = c[0] * x + d[0];                                                       \
            d[0] = c[1] * x + c[3] * y + d[1];                                                     \
            d[1] = c[2] * x + c[4] * y;                                                            \
            x = y;                                                                                 \
        }                                                                                          \
        return x;                                                                                  \
    }
BY_HAND(1)
BY_HAND(4)
