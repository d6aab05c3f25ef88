/* What outlives the power: PORT_NV_BYTES of memory as a log in two sectors of the flash.
 *
 * The memory itself is in RAM; each write to it appends four bytes {place, value, and both inverted} to the log, and a
 * boot reads the log. A write that the power cut short leaves a bit set where one of each pair must be clear, so it
 * is no record; so does an erasure cut short. A full sector is followed by the other one: erased, the whole memory
 * written, and its head last, with a number that is higher by one and a CRC. Until that head is whole the sector
 * before is the good one, and it is not touched.
 *
 * Nothing here waits but at boot: the program runs from RAM, the flash may be busy for as long as it likes, and the
 * core asks port_nv_ready() first. The next sector is begun while the drive is off, or at the last when there is no room. A sector takes some 100000 erasures and 1020 records (the flash chip's data sheet).
 */
#include "core.h"
#include "frame.h"

#define SECTOR_BYTES 4096u
#ifndef STORE_LOG_BYTES
#define STORE_LOG_BYTES SECTOR_BYTES /* less of it, in a test that wants to see many sectors */
#endif
#define STORE_AT (1024u * 1024u - 2u * SECTOR_BYTES) /* every such board has a megabyte, or more */
#define RECORD_BYTES 4u
#define HEAD_BYTES 8u
#define ROOM (128u * RECORD_BYTES) /* for a boot that mends the settings, or what a wind keeps from its start to its rest */
_Static_assert(PORT_NV_BYTES <= 256, "a place is one byte");
_Static_assert(HEAD_BYTES + PORT_NV_BYTES * RECORD_BYTES + ROOM < STORE_LOG_BYTES, "a copy leaves room for a log");

enum { COMMAND_WRITE_ENABLE = 0x06, COMMAND_STATUS = 0x05, COMMAND_READ = 0x03, COMMAND_PROGRAM = 0x02,
       COMMAND_ERASE_SECTOR = 0x20, COMMAND_NUMBER = 0x4b, COMMAND_BYTES = 4, STATUS_BUSY = 1,
       NO_COPY = PORT_NV_BYTES + 1 };

uint8_t store_flash_number[8];

static uint8_t memory[PORT_NV_BYTES];
static uint32_t number;   /* of the log's sector: one more with each */
static uint32_t used;     /* bytes of it */
static uint16_t copying;  /* next place to copy into the fresh sector; PORT_NV_BYTES: its head; NO_COPY: none */
static uint8_t sector;
static bool busy;         /* as far as is known */
static uint8_t newest[RECORD_BYTES]; /* what was written last, */
static uint32_t newest_at;           /* and where; 0: no record */

/* One transfer with the chip selected. Never more under way than its buffers hold, however long interrupts take. */
static void transfer(const uint8_t *out, uint8_t *in, uint8_t length) {
    uint8_t sent = 0, got = 0;
    REG(FLASH_SELECT) = OVER_LOW;
    while (got < length) {
        if (sent < length && sent - got < 14)
            REG(SSI + 0x60) = out[sent++];
        if (REG(SSI + 0x28) & 8)
            in[got++] = (uint8_t)REG(SSI + 0x60);
    }
    REG(FLASH_SELECT) = OVER_HIGH;
}

static void command(uint8_t what, uint32_t at, uint8_t *bytes, uint8_t length) {
    uint8_t line[COMMAND_BYTES + HEAD_BYTES] = {what, (uint8_t)(at >> 16), (uint8_t)(at >> 8), (uint8_t)at};
    memcpy(line + COMMAND_BYTES, bytes, length);
    transfer(line, line, (uint8_t)(COMMAND_BYTES + length));
    memcpy(bytes, line + COMMAND_BYTES, length);
}

static bool flash_is_busy(void) {
    uint8_t line[2] = {COMMAND_STATUS};
    transfer(line, line, sizeof line);
    return line[1] & STATUS_BUSY;
}

static void change(uint8_t what, uint32_t at, uint8_t *bytes, uint8_t length) {
    uint8_t enable = COMMAND_WRITE_ENABLE;
    transfer(&enable, &enable, 1);
    command(what, at, bytes, length);
    busy = true;
}

static uint32_t address(uint8_t of, uint32_t at) {
    return STORE_AT + of * SECTOR_BYTES + at;
}

static void append(uint8_t at, uint8_t byte) {
    uint8_t record[RECORD_BYTES] = {at, byte, (uint8_t)~at, (uint8_t)~byte};
    memcpy(newest, record, sizeof newest);
    newest_at = address(sector, used);
    change(COMMAND_PROGRAM, newest_at, record, sizeof record);
    used += RECORD_BYTES;
}

/* A place of the flash that did not take its record: the core must not read what it wrote (kept.c goes elsewhere then). */
static void check_newest(void) {
    uint8_t record[RECORD_BYTES] = {0};
    if (newest_at == 0)
        return;
    command(COMMAND_READ, newest_at, record, sizeof record);
    if (memcmp(record, newest, sizeof record) != 0)
        memory[newest[0]] = (uint8_t)~newest[1];
    newest_at = 0;
}

static void begin_sector(uint8_t which) {
    sector = which;
    used = HEAD_BYTES;
    copying = 0;
    change(COMMAND_ERASE_SECTOR, address(which, 0), NULL, 0);
}

static void write_head(void) {
    uint8_t head[HEAD_BYTES];
    put_u32(head, ++number);
    put_u32(head + 4, crc32(CRC32_START, head, 4));
    change(COMMAND_PROGRAM, address(sector, 0), head, sizeof head);
    copying = NO_COPY;
}

/* A sector's number; 0: it is not whole. The CRC of four erased bytes is that of an erased head. */
static uint32_t read_head(uint8_t of) {
    uint8_t head[HEAD_BYTES] = {0};
    command(COMMAND_READ, address(of, 0), head, sizeof head);
    bool whole = crc32(CRC32_START, head, 4) == get_u32(head + 4) && get_u32(head) != UINT32_MAX;
    return whole ? get_u32(head) : 0;
}

/* All of it: a worn place may have taken nothing, and records follow it. */
static void read_log(void) {
    used = HEAD_BYTES;
    for (uint32_t at = HEAD_BYTES; at < STORE_LOG_BYTES; at += RECORD_BYTES) {
        uint8_t record[RECORD_BYTES] = {0};
        command(COMMAND_READ, address(sector, at), record, sizeof record);
        if (get_u32(record) == UINT32_MAX)
            continue;
        used = at + RECORD_BYTES;
        if ((record[0] ^ record[2]) == UINT8_MAX && (record[1] ^ record[3]) == UINT8_MAX)
            memory[record[0] % PORT_NV_BYTES] = record[1];
    }
}

/* Before interrupts and the watchdog: the only place that waits for an erasure. */
void store_boot(void) {
    REG(SSI + 0x08) = 0;
    REG(SSI + 0x14) = 4;        /* 31 MHz */
    REG(SSI + 0x00) = 7u << 16; /* frames of 8 bits, each way */
    REG(SSI + 0x10) = 1;
    REG(SSI + 0x08) = 1;
    while (flash_is_busy()) { /* what a reset left it at */
    }
    uint8_t line[5 + sizeof store_flash_number] = {COMMAND_NUMBER};
    transfer(line, line, sizeof line);
    memcpy(store_flash_number, line + 5, sizeof store_flash_number);
    memset(memory, 0xff, sizeof memory);
    copying = NO_COPY;
    uint32_t numbers[2] = {read_head(0), read_head(1)};
    sector = numbers[1] > numbers[0];
    number = numbers[sector];
    if (number != 0)
        read_log();
    if (number == 0)
        begin_sector(0);
    store_make_room();
}

/* The watchdog is kept from biting: an erasure may take longer than it waits. */
void store_make_room(void) {
    do
        port_watchdog();
    while (!port_nv_ready());
}

uint8_t port_nv_read(uint16_t at) { return memory[at]; }

bool port_nv_ready(void) {
    if (busy) {
        if (flash_is_busy())
            return false;
        busy = false;
        check_newest();
    }
    while (copying < PORT_NV_BYTES && memory[copying] == UINT8_MAX)
        copying++; /* as the log begins */
    if (copying < PORT_NV_BYTES) {
        append((uint8_t)copying, memory[copying]);
        copying++;
    } else if (copying == PORT_NV_BYTES) {
        write_head();
    } else if (used > STORE_LOG_BYTES - (port_drives() ? RECORD_BYTES : ROOM)) {
        begin_sector(sector ^ 1u);
    }
    return !busy;
}

void port_nv_write(uint16_t at, uint8_t byte) {
    memory[at] = byte;
    append((uint8_t)at, byte);
}
