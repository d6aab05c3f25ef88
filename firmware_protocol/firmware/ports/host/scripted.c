/* The board's end over a body that does nothing: a test sets its facts and reads what was asked of it.
 *
 * With it the C side can be held against the Python one, answer for answer: both get the same bytes, ticks
 * and facts. Everything that was asked is one line of numbers in `asked`, in the order it came.
 */
#include "device.h"
#include "frame.h"
#include "guide.h"
#include "host.h"

volatile struct steps steps; /* host.c knows of them; nothing moves here */
struct facts script;
struct kept_record script_kept;
bool script_motion;

#define ASKED_MAX 4096
struct asked {
    int32_t what; /* 0 obey, 1 open wind, 2 close wind, 3 mark, 4 step, 5 keep, 6 keep motion, 7 far */
    int32_t numbers[8];
};
struct asked asked[ASKED_MAX];
uint32_t asked_length;

static struct frame_reader reader;

static void note(int32_t what, const int32_t *numbers, size_t length) {
    if (asked_length == ASKED_MAX)
        return;
    struct asked *line = &asked[asked_length++];
    memset(line, 0, sizeof *line);
    line->what = what;
    memcpy(line->numbers, numbers, length * sizeof *numbers);
}

void scripted_boot(uint16_t boot, uint32_t now_ms, bool by_watchdog) {
    memset(&reader, 0, sizeof reader);
    asked_length = 0;
    link_clear();
    device_boot(boot, now_ms, by_watchdog);
}

static size_t carry_off(uint8_t *to, size_t length) {
    while (link_next(to + length))
        length++;
    return length;
}

/* `sent` must hold 64 bytes for every 8 that are received, and 64 more. Returns how many were sent. */
size_t scripted_receive(const uint8_t *bytes, size_t length, uint32_t now_ms, uint8_t *sent) {
    size_t sent_length = 0;
    while (length--) {
        if (frame_take(&reader, *bytes++)) {
            device_take(reader.bytes[0], reader.bytes[1], reader.bytes + 2, reader.payload_bytes, now_ms);
            sent_length = carry_off(sent, sent_length);
        }
    }
    return sent_length;
}

size_t scripted_tick(uint32_t now_ms, uint8_t *sent) {
    device_tick(now_ms);
    return carry_off(sent, 0);
}

void body_boot(void) {}

void body_tick(uint32_t now_ms) {
    (void)now_ms;
}

void body_obey(const struct drive *drive) {
    int32_t numbers[8] = {drive->order, drive->plan ? drive->plan->legs : 0, drive->pace_permille,
                          drive->plan ? drive->plan->generation : 0};
    if (drive->move) {
        numbers[4] = drive->move->counts;
        numbers[5] = (int32_t)drive->move->rate_mcps;
        numbers[6] = (int32_t)drive->move->accel_mcps2;
    }
    if (drive->plan)
        numbers[7] = drive->plan->leg[drive->plan->legs - 1].end_count;
    note(0, numbers, 8);
}

void body_facts(struct facts *facts) {
    *facts = script;
}

void body_open_wind(uint32_t wind) {
    int32_t number = (int32_t)wind;
    script.count = 0;
    script.unattributed = script.implausible = 0;
    note(1, &number, 1);
}

void body_close_wind(void) {}

void body_new_plan(void) {}

void body_mark_traverse(uint8_t side, int32_t at_um) {
    int32_t numbers[2] = {side, at_um};
    note(3, numbers, 2);
}

void body_step_traverse(int32_t distance_um) {
    note(4, &distance_um, 1);
}

void body_lead_far(const struct far *ask) {
    int32_t numbers[4] = {ask->home, ask->um, (int32_t)ask->rate_um_s, (int32_t)ask->accel_um_s2};
    note(7, numbers, 4);
}

void body_keep(const struct kept_record *record) {
    int32_t numbers[4] = {(int32_t)record->wind, record->count, record->valid, record->at_rest};
    script_kept = *record;
    note(5, numbers, 4);
}

void body_keep_motion(bool moving) {
    int32_t number = moving;
    script_motion = moving;
    note(6, &number, 1);
}

bool body_kept_motion(void) {
    return script_motion;
}

void body_kept(struct kept_record *record) {
    *record = script_kept;
}
