#ifndef PORT_MATH_H
#define PORT_MATH_H

float sqrtf(float value);

#endif
