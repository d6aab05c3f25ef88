/* TEST ONLY (GPL-3-or-later by libsimavr): the chip, its serial line, and what is watched. See chip.h. */
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "avr_eeprom.h"
#include "avr_extint.h"
#include "avr_ioport.h"
#include "chip.h"
#include "sim_cycle_timers.h"
#include "sim_interrupts.h"
#include "sim_io.h"

#define ENTRY_CYCLES 4   /* an interrupt's entry costs the real part four cycles, the emulator none */
#define RX_BYTES_HELD 3  /* two in the receiver's buffer and one in its shift register; the emulator holds 64 */
#define BAUD_ERROR_MAX 0.045
#define EEPROM_WRITE_CYCLES 54400u /* 3.4 ms a byte; the emulator takes no time */
#define PAINT 0xA5
#define WATCHDOG_CYCLES 256000u /* 16 ms, its shortest; doubled by each step of its scale */
enum { WDE_BIT = 8, WDIE_BIT = 64 };
enum { EERE_BIT = 1, EEPE_BIT = 2, EEMPE_BIT = 4 };

uint64_t chip_now(const struct chip *c) { return c->base + c->avr->cycle; }

/* All that happens goes, with its cycle, into one FNV-1a hash: equal runs have equal hashes. */
void chip_note(struct chip *c, char kind, uint32_t value) {
    uint64_t words[2] = {chip_now(c), (uint64_t)(uint8_t)kind << 32 | value};
    const uint8_t *bytes = (const uint8_t *)words;
    for (unsigned i = 0; i < sizeof words; i++) c->hash = (c->hash ^ bytes[i]) * 1099511628211ull;
}

/* --- serial line ---------------------------------------------------------------------------------- */

static double cycles_a_byte(const struct chip *c) {
    const uint8_t *d = c->avr->data;
    uint32_t divider = d[REG_UBRR0L] | (uint32_t)(d[REG_UBRR0H] & 15) << 8;
    return 10.0 * (divider + 1) * (d[REG_UCSR0A] & 2 ? 8 : 16);
}

static int bauds_differ(const struct chip *c) {
    double ours = cycles_a_byte(c), error = (10.0 * CHIP_HZ / c->host_baud - ours) / ours;
    return error > BAUD_ERROR_MAX || error < -BAUD_ERROR_MAX;
}

static avr_cycle_count_t pump_in(avr_t *avr, avr_cycle_count_t when, void *param) {
    struct chip *c = param;
    if (c->in_head == c->in_tail) {
        c->in_busy = 0;
        return 0;
    }
    uint64_t at = c->in_at[c->in_tail % LINE_BYTES];
    if (at > c->base + when) return (avr_cycle_count_t)(at - c->base);
    uint8_t byte = c->in[c->in_tail++ % LINE_BYTES];
    c->bytes_in++;
    if (((c->uart->input.write - c->uart->input.read) & 63) >= RX_BYTES_HELD) {
        c->overruns++;
        avr->data[REG_UCSR0A] |= 8; /* DOR0 */
        chip_note(c, 'O', byte);
    } else {
        chip_note(c, 'i', byte);
        /* The emulator takes bytes at any speed; a real receiver reads garbage and framing errors. */
        avr_raise_irq(c->to_uart, bauds_differ(c) ? (uint8_t)(byte ^ 0x5A) | UART_INPUT_FE : byte);
    }
    return when + (avr_cycle_count_t)(10.0 * CHIP_HZ / c->host_baud);
}

static void on_byte_out(avr_irq_t *irq, uint32_t value, void *param) {
    struct chip *c = param;
    uint64_t from = c->out_last > chip_now(c) ? c->out_last : chip_now(c);
    (void)irq;
    c->out_last = from + (uint64_t)cycles_a_byte(c); /* the emulator tells of a byte as it begins */
    c->bytes_out++;
    chip_note(c, 'o', value & 255);
    c->out[c->out_head % LINE_BYTES] = (uint8_t)(bauds_differ(c) ? value ^ 0x5A : value);
    c->out_at[c->out_head++ % LINE_BYTES] = c->out_last;
}

/* --- interrupts, memory --------------------------------------------------------------------------- */

/* A program that hung begins anew in software too. */
static void mend_program(struct chip *c) {
    if (!c->is_hung) return;
    memcpy(c->avr->flash + c->hung_at, c->hung_bytes, sizeof c->hung_bytes);
    c->is_hung = 0;
}

/* The second time out of a watchdog whose interrupt did not run is a reset; the emulator would wait for ever. */
static avr_cycle_count_t lose_patience(avr_t *avr, avr_cycle_count_t when, void *param) {
    (void)when; (void)param;
    avr->data[REG_WDTCSR] &= (uint8_t)~WDIE_BIT;
    return 0;
}

static void on_watchdog_pending(avr_irq_t *irq, uint32_t pending, void *param) {
    struct chip *c = param;
    uint8_t set = c->avr->data[REG_WDTCSR];
    unsigned scale = (set & 7u) | (set & 32u) >> 2;
    (void)irq;
    avr_cycle_timer_cancel(c->avr, lose_patience, c);
    if (pending && (set & WDE_BIT))
        avr_cycle_timer_register(c->avr, (WATCHDOG_CYCLES << scale) * 9 / 10, lose_patience, c);
}

static void on_vector(avr_irq_t *irq, uint32_t running, void *param) {
    struct chip *c = param;
    unsigned number = (irq->irq >> 8) & 31;
    struct vector_times *v = &c->vectors[number < VECTORS ? number : 0];
    uint64_t now = chip_now(c);
    if (running) {
        c->avr->cycle += ENTRY_CYCLES;
        if (number == 6) mend_program(c);
        v->since = now;
        if ((number == 1 || number == 2) && c->edge_raised[number]) {
            uint64_t late = now - c->edge_raised[number];
            c->edge_raised[number] = 0;
            if (late > c->latency_most) c->latency_most = late;
        }
    } else if (v->since) {
        uint64_t took = now - v->since;
        v->since = 0;
        v->calls++;
        v->cycles += took;
        if (!v->least || took < v->least) v->least = took;
        if (took > v->most) v->most = took;
    }
}

static avr_cycle_count_t end_burning(avr_t *avr, avr_cycle_count_t when, void *param) {
    (void)when; (void)param;
    avr->data[REG_EECR] &= (uint8_t)~EEPE_BIT;
    return 0;
}

/* The emulator burns a byte in no time; a real part shows EEPE for 3.4 ms, in which neither a write nor a
 * read may begin. Called after the emulator's own handler, which has cleared the bits. */
static void on_eeprom(struct avr_t *avr, avr_io_addr_t addr, uint8_t value, void *param) {
    struct chip *c = param;
    int burning = c->ee_writes && chip_now(c) - c->ee_last < EEPROM_WRITE_CYCLES;
    (void)addr;
    if ((value & EERE_BIT) && burning) c->ee_too_soon++;
    if ((value & (EEPE_BIT | EEMPE_BIT)) == (EEPE_BIT | EEMPE_BIT)) {
        if (burning) c->ee_too_soon++;
        c->ee_writes++;
        c->ee_last = chip_now(c);
        chip_note(c, 'E', value);
        avr_cycle_timer_register(avr, EEPROM_WRITE_CYCLES, end_burning, c);
        burning = 1;
    }
    if (burning) avr->data[REG_EECR] |= EEPE_BIT;
}

static void paint_memory(struct chip *c) {
    memset(c->avr->data + 0x100, PAINT, 2048); /* what SRAM holds at power-up is anyone's guess */
}

/* --- resets --------------------------------------------------------------------------------------- */

/* Guard, wire and limit inputs: what the machine drives holds over a reset, past the pins' filter. */
static void drive_port_c(struct chip *c) {
    avr_ioport_external_t hold = {.name = 'C', .mask = c->c_driven, .value = c->c_levels};
    avr_ioctl(c->avr, AVR_IOCTL_IOPORT_SET_EXTERNAL('C'), &hold);
    for (int i = 0; i < 6; i++) {
        if (!(c->c_driven >> i & 1)) continue;
        avr_raise_irq(c->port_c[i], !(c->c_levels >> i & 1));
        avr_raise_irq(c->port_c[i], c->c_levels >> i & 1);
    }
}

static void arm(struct chip *c) {
    /* In mode "low level" the emulator polls the pins every cycle, enabled or not. */
    avr_extint_set_strict_lvl_trig(c->avr, 0, 0);
    avr_extint_set_strict_lvl_trig(c->avr, 1, 0);
    c->edge_raised[1] = c->edge_raised[2] = 0;
    for (int i = 0; i < VECTORS; i++) c->vectors[i].since = 0;
    drive_port_c(c);
    spindle_arm(c);
    if (c->ee_writes && chip_now(c) - c->ee_last < EEPROM_WRITE_CYCLES) { /* a reset does not end it */
        c->avr->data[REG_EECR] |= EEPE_BIT;
        avr_cycle_timer_register(c->avr, EEPROM_WRITE_CYCLES - (chip_now(c) - c->ee_last), end_burning, c);
    }
    if (c->in_head != c->in_tail) {
        c->in_busy = 1;
        avr_cycle_timer_register(c->avr, 1, pump_in, c);
    } else {
        c->in_busy = 0;
    }
}

static void after_reset(struct chip *c, uint32_t cause) {
    c->was_reset = 0;
    c->resets++;
    chip_note(c, 'R', cause);
    mend_program(c);
    guide_reset(c);
    watch_look(c);
    arm(c);
}

/* The emulator resets its core by itself when its watchdog bites. */
static void on_core_reset(avr_t *avr) {
    struct chip *c = avr->custom.data;
    if (c->core_reset) c->core_reset(avr);
    c->was_reset = 1;
}

/* Reset by power-up (PORF, 1), the pin (EXTRF, 2) or a supply that dipped (BORF, 4): the cause is ours to set. Held
 * for so many cycles. Only power-up takes the memory. */
void chip_reset(struct chip *c, int cause, uint64_t held) {
    uint64_t before = c->avr->cycle;
    avr_reset(c->avr);
    if (c->avr->cycle < before) c->base += before;
    c->avr->data[REG_MCUSR] = cause == 1 ? 1 : (uint8_t)(c->avr->data[REG_MCUSR] | cause);
    if (cause == 1) paint_memory(c);
    c->held_until = chip_now(c) + held;
    after_reset(c, (uint32_t)cause);
}

/* A program more in flash; with `boots`, every reset begins there, as the fuse of a boot loader says. */
void chip_place_program(struct chip *c, uint32_t at, const uint8_t *bytes, int n, int boots) {
    memcpy(c->avr->flash + at, bytes, (size_t)n);
    c->avr->codeend = c->avr->flashend;
    if (boots) c->avr->reset_pc = at;
}

/* The program hangs where it is, as on a loop that never ends; with interrupts off too if asked. */
void chip_hang(struct chip *c, int interrupts_off) {
    static const uint8_t loop[4] = {0xFF, 0xCF, 0xFF, 0xCF}, deaf[4] = {0xF8, 0x94, 0xFF, 0xCF};
    c->hung_at = (uint32_t)c->avr->pc;
    memcpy(c->hung_bytes, c->avr->flash + c->hung_at, 4);
    memcpy(c->avr->flash + c->hung_at, interrupts_off ? deaf : loop, 4);
    c->is_hung = 1;
}

/* Whether the program is outside every interrupt, with interrupts on: where a hang can be put. */
int chip_in_main(const struct chip *c) {
    for (int i = 0; i < VECTORS; i++)
        if (c->vectors[i].since) return 0;
    return c->avr->sreg[7] && c->avr->state == cpu_Running;
}

/* --- life ----------------------------------------------------------------------------------------- */

static void log_errors(avr_t *avr, const int level, const char *format, va_list ap) {
    (void)avr;
    if (level <= LOG_ERROR) vfprintf(stderr, format, ap);
}

static void no_sleep(avr_t *avr, avr_cycle_count_t cycles) { (void)avr; (void)cycles; }

static void find_irqs(struct chip *c) {
    avr_t *avr = c->avr;
    uint32_t no_flags = 0; /* no usleep() when the line is polled, no echo on standard output */
    for (avr_io_t *io = avr->io_port; io; io = io->next)
        if (!strcmp(io->kind, "uart")) c->uart = (avr_uart_t *)io;
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &no_flags);
    c->to_uart = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_byte_out, c);
    c->pin_a = avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 2);
    c->pin_b = avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 3);
    for (int i = 0; i < 6; i++) c->port_c[i] = avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('C'), i);
    guide_watch(c);
    watch_begin(c);
    for (uint8_t v = 1; v < VECTORS; v++) {
        avr_irq_t *irq = avr_get_interrupt_irq(avr, v);
        if (irq) avr_irq_register_notify(irq + AVR_INT_IRQ_RUNNING, on_vector, c);
        if (irq && v == 6) avr_irq_register_notify(irq + AVR_INT_IRQ_PENDING, on_watchdog_pending, c);
    }
    avr_register_io_write(avr, REG_EECR, on_eeprom, c);
}

struct chip *chip_new(const char *elf) {
    struct chip *c = calloc(1, sizeof *c);
    avr_global_logger_set(log_errors);
    c->hash = 14695981039346656037ull;
    c->host_baud = 500000;
    c->sensor.kind = SENSOR_ONE_PULSE;
    c->spindle.no_load = 1.0;
    c->spindle.place = 0.5;
    if (elf_read_firmware(elf, &c->firmware)) {
        free(c);
        return NULL;
    }
    c->avr = avr_make_mcu_by_name("atmega328p");
    avr_init(c->avr);
    c->firmware.frequency = CHIP_HZ;
    avr_load_firmware(c->avr, &c->firmware);
    c->avr->frequency = CHIP_HZ;
    c->avr->log = LOG_ERROR;
    c->avr->sleep = no_sleep;
    c->avr->data[REG_MCUSR] = 1;
    c->core_reset = c->avr->reset;
    c->avr->reset = on_core_reset;
    c->avr->custom.data = c;
    paint_memory(c);
    find_irqs(c);
    arm(c);
    return c;
}

void chip_free(struct chip *c) {
    avr_terminate(c->avr);
    free(c->guide.trace);
    free(c->sensor.bend);
    free(c);
}

static int has_bytes(const struct chip *c) {
    return c->out_tail != c->out_head && c->out_at[c->out_tail % LINE_BYTES] <= chip_now(c);
}

/* Run to an absolute cycle, or until a byte has come out; returns the core's state. */
int chip_run_until(struct chip *c, uint64_t until, int stop_on_byte) {
    while (chip_now(c) < until) {
        if (chip_now(c) < c->held_until) { /* in reset: time passes, nothing is executed */
            c->avr->cycle += 160;
            avr_cycle_timer_process(c->avr);
            continue;
        }
        uint64_t before = c->avr->cycle;
        c->state = avr_run(c->avr);
        if (c->avr->cycle < before) c->base += before;
        if (c->was_reset) after_reset(c, 8); /* the watchdog; it cleared every timer of ours */
        if (c->state == cpu_Done || c->state == cpu_Crashed) break;
        if (stop_on_byte && has_bytes(c)) break;
    }
    return c->state;
}

void chip_write_at(struct chip *c, uint64_t at, const uint8_t *bytes, int n) {
    for (int i = 0; i < n; i++) {
        c->in_at[c->in_head % LINE_BYTES] = at;
        c->in[c->in_head++ % LINE_BYTES] = bytes[i];
    }
    if (n && !c->in_busy) {
        uint64_t now = chip_now(c);
        c->in_busy = 1;
        avr_cycle_timer_register(c->avr, at > now ? at - now : 1, pump_in, c);
    }
}

int chip_read(struct chip *c, uint8_t *bytes, int most) {
    int n = 0;
    while (n < most && has_bytes(c)) bytes[n++] = c->out[c->out_tail++ % LINE_BYTES];
    return n;
}

void chip_host_baud(struct chip *c, double baud) { c->host_baud = baud; }
void chip_pin_c(struct chip *c, int pin, int level) {
    c->c_driven |= (uint8_t)(1u << pin);
    c->c_levels = (uint8_t)((c->c_levels & ~(1u << pin)) | (level ? 1u << pin : 0));
    drive_port_c(c);
}

/* --- what a test asks ----------------------------------------------------------------------------- */

uint64_t chip_get(const struct chip *c, int what) {
    switch (what) {
    case 0: return chip_now(c);
    case 1: return c->sensor.edges;
    case 2: return (uint64_t)sensor_count(c);
    case 3: return c->hash;
    case 4: return c->overruns;
    case 5: return c->resets;
    case 6: return (uint64_t)c->state;
    case 7: return (uint64_t)c->spindle.duty_permille;
    case 8: return (uint64_t)c->spindle.brake_permille;
    case 9: return (uint64_t)c->spindle.enabled;
    case 10: return c->sensor.disturbances;
    case 11: return c->ee_writes;
    case 12: return c->ee_too_soon;
    case 13: return c->latency_most;
    case 14: return c->bytes_in;
    case 15: return c->bytes_out;
    case 16: return (uint64_t)c->spindle.phases_left;
    case 17: return c->sensor.bounces;
    case 18: return (uint64_t)c->spindle.push_permille;
    case 19: return (uint64_t)watch_contactor_open(c);
    case 20: return c->spindle.moved_at;
    case 21: return c->spindle.shorts;
    case 22: return c->avr->pc;
    default: return 0;
    }
}

void chip_vector(const struct chip *c, int number, uint64_t *four) {
    const struct vector_times *v = &c->vectors[number];
    four[0] = v->calls;
    four[1] = v->least;
    four[2] = v->most;
    four[3] = v->cycles;
}

uint8_t chip_peek(const struct chip *c, int address) { return c->avr->data[address]; }

void chip_eeprom(struct chip *c, int write, uint8_t *bytes, int offset, int n) {
    avr_eeprom_desc_t all = {.ee = bytes, .offset = (uint16_t)offset, .size = (uint32_t)n};
    avr_ioctl(c->avr, write ? AVR_IOCTL_EEPROM_SET : AVR_IOCTL_EEPROM_GET, &all);
}
