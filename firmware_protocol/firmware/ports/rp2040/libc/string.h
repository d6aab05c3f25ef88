/* What the core uses of the C library, so that the port needs a compiler and nothing else. */
#ifndef PORT_STRING_H
#define PORT_STRING_H

#include <stddef.h>

void *memcpy(void *to, const void *from, size_t length);
void *memmove(void *to, const void *from, size_t length);
void *memset(void *to, int byte, size_t length);
int memcmp(const void *one, const void *other, size_t length);

#endif
