/* A one-pole low-pass in plain C, written anew for this comparison. */

typedef struct {
    float k;
    float y;
} one_pole;

float c_pole(one_pole *p, float x)
{
    p->y += p->k * (x - p->y);
    return p->y;
}
