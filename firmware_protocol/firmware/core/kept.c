#include "kept.h"

#include "frame.h"
#include "settings.h"

#define MARK_AT_REST 0xA5
#define MARK_STARTED 0x00

enum {
    BOOT_COPY_BYTES = 4, /* low, high, and both inverted */
    MOTION_AT = 2 * BOOT_COPY_BYTES,
    MOTION_CELLS = CORE_MOTOR ? PORT_NV_BYTES / 16 : 0, /* at most 64: seven bits of serial tell the newest */
    CELL_BYTES = 2,
    SLOTS_AT = MOTION_AT + CELL_BYTES * MOTION_CELLS,
    SERIAL_AT = 0, /* of a slot */
    WIND_AT = 2,
    COUNT_AT = 6,
    MARK_AT = 10,
    CRC_AT = 11,
    SLOT_BYTES = 15,
    SLOTS = (SETTINGS_AT - SLOTS_AT) / SLOT_BYTES,
    NOTHING = SLOT_BYTES, /* no byte left to write */
    SPARES = 8,           /* places tried when what is read back is not what was written */
};
_Static_assert(SLOTS >= 2 && SLOTS <= 255 && MOTION_CELLS <= 64, "two records, counted in a byte");

static struct {
    struct kept_record record;
    uint8_t bytes[SLOT_BYTES]; /* of the slot that is being written */
    uint16_t serial;
    uint8_t slot;              /* of the newest record */
    uint8_t next;              /* byte to write; NOTHING: none */
    bool clear_mark;           /* AT_REST of the newest record is to be taken back */
    bool check;                /* the newest byte is to be read back */
    uint16_t wrote_at;
    uint8_t wrote;
    uint8_t spares;
#if CORE_MOTOR
    uint8_t cell;              /* of the newest motion value */
    uint8_t motion;            /* that value: serial in seven bits, and whether something was set in motion */
    uint8_t motion_left;       /* bytes of it to write */
    bool motion_wanted;
#endif
} kept;

static uint16_t place(uint8_t slot, uint8_t at) {
    return (uint16_t)(SLOTS_AT + (uint16_t)slot * SLOT_BYTES + at);
}

void kept_read_bytes(uint8_t *to, uint16_t from, uint8_t length) {
    while (!port_nv_ready()) {
    }
    while (length--)
        *to++ = port_nv_read(from++);
}

static bool read_slot(uint8_t slot) {
    kept_read_bytes(kept.bytes, place(slot, 0), SLOT_BYTES);
    return crc32(CRC32_START, kept.bytes, MARK_AT) == get_u32(kept.bytes + CRC_AT);
}

#if CORE_MOTOR
static void find_motion(void) {
    bool found = false;
    for (uint8_t cell = 0; cell < MOTION_CELLS; cell++) {
        uint8_t pair[CELL_BYTES];
        kept_read_bytes(pair, (uint16_t)(MOTION_AT + CELL_BYTES * cell), CELL_BYTES);
        if ((pair[0] ^ pair[1]) != UINT8_MAX || (found && (uint8_t)(pair[0] - kept.motion) > UINT8_MAX / 2))
            continue;
        found = true;
        kept.cell = cell;
        kept.motion = pair[0];
    }
    kept.motion_wanted = kept.motion & 1u;
}

void kept_set_motion(bool moving) {
    kept.motion_wanted = moving;
    kept.spares = SPARES;
}

bool kept_motion(void) {
    return kept.motion_wanted;
}

static bool motion_due(void) {
    return kept.motion_left != 0 || kept.motion_wanted != (kept.motion & 1u);
}
#endif

void kept_boot(void) {
    memset(&kept, 0, sizeof kept);
    kept.next = NOTHING;
#if CORE_MOTOR
    find_motion();
#endif
    for (uint8_t slot = 0; slot < SLOTS; slot++) {
        if (!read_slot(slot))
            continue;
        uint16_t serial = get_u16(kept.bytes + SERIAL_AT);
        if (kept.record.valid && (uint16_t)(serial - kept.serial) > UINT16_MAX / 2)
            continue;
        kept.slot = slot;
        kept.serial = serial;
        kept.record.wind = get_u32(kept.bytes + WIND_AT);
        kept.record.count = (int32_t)get_u32(kept.bytes + COUNT_AT);
        kept.record.valid = true;
        kept.record.at_rest = kept.bytes[MARK_AT] == MARK_AT_REST;
    }
}

static bool read_boot(uint16_t at, uint16_t *boot) {
    uint8_t copy[BOOT_COPY_BYTES];
    kept_read_bytes(copy, at, sizeof copy);
    *boot = get_u16(copy);
    return (get_u16(copy + 2) ^ *boot) == UINT16_MAX;
}

uint16_t kept_next_boot(void) {
    uint16_t first, second, newest = 0, to = 0;
    bool first_good = read_boot(0, &first), second_good = read_boot(BOOT_COPY_BYTES, &second);
    if (first_good && (!second_good || (uint16_t)(first - second) <= UINT16_MAX / 2)) {
        newest = first;
        to = BOOT_COPY_BYTES;
    } else if (second_good) {
        newest = second;
    }
    uint8_t copy[BOOT_COPY_BYTES];
    newest++;
    put_u16(copy, newest);
    put_u16(copy + 2, (uint16_t)~newest);
    for (uint8_t i = 0; i < sizeof copy; i++) {
        while (!port_nv_ready()) {
        }
        port_nv_write((uint16_t)(to + i), copy[i]);
    }
    return newest;
}

/* The record goes into the next slot, from its first byte on. */
static void open_slot(void) {
    kept.serial++;
    kept.slot = (uint8_t)((kept.slot + 1u) % SLOTS);
    kept.next = 0;
    put_u16(kept.bytes + SERIAL_AT, kept.serial);
    put_u32(kept.bytes + WIND_AT, kept.record.wind);
    put_u32(kept.bytes + COUNT_AT, (uint32_t)kept.record.count);
    kept.bytes[MARK_AT] = kept.record.at_rest ? MARK_AT_REST : MARK_STARTED;
    put_u32(kept.bytes + CRC_AT, crc32(CRC32_START, kept.bytes, MARK_AT));
}

void kept_write(const struct kept_record *record) {
    bool takes_back = kept.record.valid && kept.record.at_rest && !record->at_rest &&
                      record->wind == kept.record.wind && record->count == kept.record.count;
    kept.record = *record;
    if (takes_back) {
        if (kept.next == NOTHING)
            kept.clear_mark = true;
        else /* not yet complete, so it never will be; the one before is not AT_REST any more */
            kept.next = NOTHING;
        return;
    }
    kept.clear_mark = false;
    kept.spares = SPARES;
    open_slot();
}

void kept_read(struct kept_record *record) {
    *record = kept.record;
}

bool kept_busy(void) {
#if CORE_MOTOR
    if (motion_due())
        return true;
#endif
    return kept.clear_mark || kept.check || kept.next != NOTHING || !port_nv_ready();
}

static void burn(uint16_t at, uint8_t byte) {
    kept.wrote_at = at;
    kept.wrote = byte;
    kept.check = true;
    port_nv_write(at, byte);
}

/* A place is worn out: the same again in the next one. A memory that has none left keeps nothing more. */
static void write_elsewhere(void) {
    if (kept.spares == 0) {
        kept.record.valid = false;
        kept.next = NOTHING;
        return;
    }
    kept.spares--;
#if CORE_MOTOR
    if (kept.wrote_at < SLOTS_AT) {
        kept.motion_left = 0;
        kept.motion ^= 1u; /* whatever is wanted is not written yet */
        return;
    }
#endif
    open_slot();
}

void kept_tick(void) {
    if (!port_nv_ready())
        return;
    if (kept.check) {
        kept.check = false;
        if (port_nv_read(kept.wrote_at) != kept.wrote)
            write_elsewhere();
    }
    if (kept.clear_mark) {
        kept.clear_mark = false;
        burn(place(kept.slot, MARK_AT), MARK_STARTED);
    } else if (kept.next != NOTHING) {
        burn(place(kept.slot, kept.next), kept.bytes[kept.next]);
        kept.next++;
#if CORE_MOTOR
    } else if (motion_due()) {
        if (kept.motion_left == 0) {
            kept.cell = (uint8_t)((kept.cell + 1u) % MOTION_CELLS);
            kept.motion = (uint8_t)(((kept.motion + 2u) & 0xFEu) | kept.motion_wanted);
            kept.motion_left = CELL_BYTES;
        }
        uint16_t at = (uint16_t)(MOTION_AT + CELL_BYTES * kept.cell + CELL_BYTES - kept.motion_left);
        burn(at, kept.motion_left == CELL_BYTES ? kept.motion : (uint8_t)~kept.motion);
        kept.motion_left--;
#endif
    }
}
