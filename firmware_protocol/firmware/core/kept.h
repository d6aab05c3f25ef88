/* What outlives the power: the boot number, and the record of the newest rest.
 *
 * Records go round in slots, so that each byte is written seldom; a slot is complete when its CRC is, and
 * its CRC is written last, so power loss in the middle leaves the record before. AT_REST is one byte that the
 * CRC does not cover: taking it back is one write. Bytes are written one a tick, for a byte takes
 * milliseconds; a record that a new motion overtakes is given up, and the one before (its AT_REST was taken
 * back when the last motion began) stands. Every byte is read back; one that does not hold what it was given
 * sends the record on to the next slot.
 *
 * Whether something was set in motion has cells of its own, written before anything moves and at every rest.
 */
#ifndef CORE_KEPT_H
#define CORE_KEPT_H

#include "body.h"

void kept_boot(void);            /* find the newest record */
uint16_t kept_next_boot(void);   /* this boot's number; writes it and waits for that */
void kept_write(const struct kept_record *record);
void kept_read(struct kept_record *record);
void kept_tick(void);            /* write the next byte, if there is one and the memory is ready */
bool kept_busy(void);            /* something is still to be written */

void kept_read_bytes(uint8_t *to, uint16_t from, uint8_t length);

#if CORE_MOTOR
void kept_set_motion(bool moving); /* written as soon as may be; kept_busy() until then */
bool kept_motion(void);            /* as asked last, or as the last boot left it */
#endif

#endif
