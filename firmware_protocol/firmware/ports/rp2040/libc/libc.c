#include "math.h"
#include "string.h"

#include <stdint.h>

void *memcpy(void *to, const void *from, size_t length) {
    uint8_t *at = to;
    const uint8_t *source = from;
    while (length--)
        *at++ = *source++;
    return to;
}

void *memmove(void *to, const void *from, size_t length) {
    uint8_t *at = to;
    const uint8_t *source = from;
    if (at <= source)
        return memcpy(to, from, length);
    while (length--)
        at[length] = source[length];
    return to;
}

void *memset(void *to, int byte, size_t length) {
    uint8_t *at = to;
    while (length--)
        *at++ = (uint8_t)byte;
    return to;
}

int memcmp(const void *one, const void *other, size_t length) {
    const uint8_t *a = one, *b = other;
    for (; length--; a++, b++)
        if (*a != *b)
            return *a - *b;
    return 0;
}

/* Rounded to nearest, as IEEE 754 asks; nought for what is nought, negative or subnormal. One binary place of the root
 * after the other: of m * 2^25, which is a place more than the result has. A tie cannot be: the square of an odd number
 * is odd. */
float sqrtf(float value) {
    union {
        float number;
        uint32_t bits;
    } of = {value};
    if (of.bits >> 31 || of.bits < 0x00800000u)
        return 0.0f;
    if (of.bits >= 0x7f800000u)
        return value;
    int32_t exponent = (int32_t)(of.bits >> 23) - 127;
    uint64_t left = (of.bits & 0x007fffffu) | 0x00800000u;
    if (exponent & 1) {
        left <<= 1;
        exponent--;
    }
    left <<= 25;
    uint64_t root = 0;
    for (uint64_t bit = UINT64_C(1) << 48; bit != 0; bit >>= 2) {
        if (left >= root + bit) {
            left -= root + bit;
            root += bit << 1;
        }
        root >>= 1;
    }
    uint32_t mantissa = ((uint32_t)root + 1u) >> 1;
    of.bits = (uint32_t)((exponent / 2 + 126) * 0x00800000) + mantissa;
    return of.number;
}
