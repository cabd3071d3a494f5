/* An observer with fixed gains in plain C, written anew for this comparison.
 *
 * x = A x + B u, then x += K (y - C x). u are the mean accelerations of floor and seat over the
 * step, y is zero (the floor goes nowhere) and the travel. Input: floor acceleration, seat
 * acceleration, travel. Answer: the travel estimated.
 */
#include <stdint.h>
#include <string.h>

enum { STATES = 6, INPUTS = 2, INNOVATIONS = 2 };

/* The structure of a small matrix library: sizes and pointers in an instance. */
typedef struct {
    uint32_t numStates;
    uint32_t numInputs;
    uint32_t numInnovations;
    const float *pA;
    const float *pB;
    const float *pC;
    const float *pK;
    float *pState;
    float *pScratch;
    float last[2];
} observer_instance;

/* out += M v, row by row. */
static inline void add_product(const float *restrict m, const float *restrict v, float *restrict out,
                               uint32_t rows, uint32_t columns)
{
    for (uint32_t i = 0; i < rows; i++) {
        float sum = out[i];
        for (uint32_t j = 0; j < columns; j++)
            sum += *m++ * v[j];
        out[i] = sum;
    }
}

float c_observer_matrices(observer_instance *restrict s, const float *restrict input)
{
    const uint32_t n = s->numStates;
    const float u[INPUTS] = { 0.5f * (s->last[0] + input[0]), 0.5f * (s->last[1] + input[1]) };
    float e[INNOVATIONS] = { 0.0f, 0.0f };
    float *x = s->pScratch;

    s->last[0] = input[0];
    s->last[1] = input[1];
    for (uint32_t i = 0; i < n; i++)
        x[i] = 0.0f;
    add_product(s->pA, s->pState, x, n, n);
    add_product(s->pB, u, x, n, s->numInputs);
    add_product(s->pC, x, e, s->numInnovations, n);
    e[0] = -e[0];
    e[1] = input[2] - e[1];
    add_product(s->pK, e, x, n, s->numInnovations);
    memcpy(s->pState, x, n * sizeof(float));
    return s->pState[3];
}

/* The same with sizes known to the compiler; the innovations picked by hand. */
typedef struct {
    float a[STATES][STATES];
    float b[STATES][INPUTS];
    float k[STATES][INNOVATIONS];
    float state[STATES];
    float last[2];
} observer_rows;

float c_observer_rows(observer_rows *restrict s, const float *restrict input)
{
    const float u[INPUTS] = { 0.5f * (s->last[0] + input[0]), 0.5f * (s->last[1] + input[1]) };
    float x[STATES];

    s->last[0] = input[0];
    s->last[1] = input[1];
    for (int i = 0; i < STATES; i++) {
        float sum = s->a[i][0] * s->state[0];
        for (int j = 1; j < STATES; j++)
            sum += s->a[i][j] * s->state[j];
        for (int j = 0; j < INPUTS; j++)
            sum += s->b[i][j] * u[j];
        x[i] = sum;
    }
    const float e[INNOVATIONS] = { -x[0], input[2] - x[3] };
    for (int i = 0; i < STATES; i++) {
        for (int j = 0; j < INNOVATIONS; j++)
            x[i] += s->k[i][j] * e[j];
        s->state[i] = x[i];
    }
    return x[3];
}

/* By hand: only what is not zero is worked out, the correction is a loop over the rows. */
typedef struct {
    float step;
    float half_step_squared;
    float k[STATES][INNOVATIONS];
    float state[STATES];
    float last[2];
} observer_by_hand;

float c_observer_by_hand(observer_by_hand *restrict s, const float *restrict input)
{
    float *const x = s->state;
    const float h = s->step, q = s->half_step_squared;
    const float floor = 0.5f * (s->last[0] + input[0]) - x[2];
    const float relative = 0.5f * (s->last[1] + input[1]) - x[5] - floor;

    s->last[0] = input[0];
    s->last[1] = input[1];
    x[0] += h * x[1] + q * floor;
    x[1] += h * floor;
    x[3] += h * x[4] + q * relative;
    x[4] += h * relative;
    const float e[INNOVATIONS] = { -x[0], input[2] - x[3] };
    for (int i = 0; i < STATES; i++)
        for (int j = 0; j < INNOVATIONS; j++)
            x[i] += s->k[i][j] * e[j];
    return x[3];
}
