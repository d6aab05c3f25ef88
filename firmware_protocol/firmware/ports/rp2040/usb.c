/* A serial port over the chip's own USB: one CDC ACM device (USB 2.0, chapter 9; CDC 1.1 and its PSTN subclass), straight
 * on the controller. One interrupt; no memory but this.
 *
 * A packet to the computer has at most 63 bytes, so that no empty one is ever needed behind it; one from the computer is
 * asked for only while the core's ring has room for it, so that no byte can be lost. The program on the computer
 * opens the port by "data terminal ready"; what nobody fetched before that is dropped.
 */
#include "core.h"

#define DPRAM 0x50100000u /* [4.1.2.5] */
#define USB 0x50110000u
#define MAIN_CONTROL REG(USB + 0x40)
#define SIE_CONTROL REG(USB + 0x4c)
#define SIE_STATUS REG(USB + 0x50)
#define BUFFERS_DONE REG(USB + 0x58)
#define STALL_ARM REG(USB + 0x68)
#define MUXING REG(USB + 0x74)
#define POWER REG(USB + 0x78)
#define INTERRUPTS_ON REG(USB + 0x90)
#define INTERRUPTS REG(USB + 0x98)
#define BUFFER_INTERRUPT (1u << 4)
#define RESET_INTERRUPT (1u << 12)
#define SETUP_INTERRUPT (1u << 16)
#define SIE_SETUP (1u << 17)
#define SIE_RESET (1u << 19)

/* Buffer control */
#define AVAILABLE (1u << 10)
#define STALL (1u << 11)
#define DATA1 (1u << 13)
#define FULL (1u << 15)
#define LENGTH 0x3ffu
#define TO_COMPUTER(end) REG(DPRAM + 0x80 + 8 * (end))
#define FROM_COMPUTER(end) REG(DPRAM + 0x84 + 8 * (end))
#define ENDPOINT_IN(end) REG(DPRAM + 8 * (end))
#define ENDPOINT_OUT(end) REG(DPRAM + 4 + 8 * (end))
#define ENDPOINT(kind, buffer) (1u << 31 | 1u << 29 | (kind) << 26 | (buffer))
#define BULK 2u
#define INTERRUPT 3u
#define BYTE(at) (*(volatile uint8_t *)(DPRAM + (at)))

enum { CONTROL_AT = 0x100, NOTICE_AT = 0x180, OUT_AT = 0x1c0, IN_AT = 0x200, /* buffers, in DPRAM */
       NOTICES = 1, DATA = 2, /* endpoints */
       PACKET = 64, TO_COMPUTER_MOST = 63, STRINGS = 4, NAME_MOST = 16 };

/* The test number of pid.codes: whoever sells boards gets one of their own. */
static const uint8_t device[18] = {18, 1, 0x00, 0x02, 0xef, 2, 1, PACKET, 0x09, 0x12, 0x01, 0x00, 0, 1, 1, 2, 3, 1};
static const uint8_t configuration[75] = {
    9, 2, 75, 0, 2, 1, 0, 0x80, 50,            /* two interfaces, 100 mA from the bus */
    8, 11, 0, 2, 2, 2, 0, 0,                   /* which belong together */
    9, 4, 0, 0, 1, 2, 2, 0, 0,                 /* control: abstract control model */
    5, 36, 0, 0x10, 0x01, 5, 36, 1, 0, 1, 4, 36, 2, 2, 5, 36, 6, 0, 1,
    7, 5, 0x80 | NOTICES, 3, 8, 0, 16,
    9, 4, 1, 0, 2, 10, 0, 0, 0,                /* data */
    7, 5, DATA, 2, PACKET, 0, 0, 7, 5, 0x80 | DATA, 2, PACKET, 0, 0,
};

static uint8_t line_coding[7] = {0x20, 0xa1, 7, 0, 0, 0, 8}; /* 500000 8N1; nothing here depends on it */

static struct {
    uint8_t text[2 + 2 * NAME_MOST];
    const uint8_t *from; /* what is left of a control reply */
    uint16_t left;
    uint8_t address;     /* to be taken once it is acknowledged; 0: none */
    bool takes_coding, control_odd, in_odd, out_odd, in_busy, out_asked, configured, open;
} usb;

bool usb_is_open(void) { return usb.open; }
bool usb_is_sending(void) { return usb.in_busy; }

/* The controller's clock must have seen all else before it sees AVAILABLE. */
static void arm(volatile uint32_t *control, uint32_t value) {
    *control = value;
    __asm volatile("nop\nnop\nnop\nnop\nnop\nnop\nnop\nnop\nnop\nnop\nnop\nnop");
    *control = value | AVAILABLE;
}

static void reply_on(void) {
    uint16_t length = usb.left < PACKET ? usb.left : PACKET;
    for (uint16_t i = 0; i < length; i++)
        BYTE(CONTROL_AT + i) = usb.from[i];
    usb.from += length;
    usb.left = (uint16_t)(usb.left - length);
    arm(&TO_COMPUTER(0), length | FULL | (usb.control_odd ? DATA1 : 0));
    usb.control_odd = !usb.control_odd;
}

static void reply(const void *from, uint16_t length, uint16_t asked) {
    usb.from = from;
    usb.left = length < asked ? length : asked;
    usb.control_odd = true;
    reply_on();
}

static void acknowledge(void) { reply(NULL, 0, 0); }
static void take_control(uint16_t length) { arm(&FROM_COMPUTER(0), length | DATA1); }

static void refuse(void) {
    STALL_ARM = 3;
    TO_COMPUTER(0) = STALL;
    FROM_COMPUTER(0) = STALL;
}

static void name_hex(char *to) {
    for (uint8_t i = 0; i < NAME_MOST; i++) {
        uint8_t half = store_flash_number[i / 2] >> (i & 1 ? 0 : 4) & 15;
        to[i] = (char)(half < 10 ? '0' + half : 'A' + half - 10);
    }
}

static void reply_string(uint8_t which, uint16_t asked) {
    char name[NAME_MOST + 1] = {0};
    switch (which) {
    case 1: memcpy(name, "exact-turns", 11); break;
    case 2: memcpy(name, "winding board", 13); break;
    default: name_hex(name); break; /* the serial number: each board has a port name of its own */
    }
    uint8_t length = 0;
    while (which != 0 && name[length] != 0) {
        usb.text[2 + 2 * length] = (uint8_t)name[length];
        usb.text[3 + 2 * length] = 0;
        length++;
    }
    if (which == 0) { /* languages: English of the United States */
        usb.text[2] = 0x09;
        usb.text[3] = 0x04;
        length = 1;
    }
    usb.text[0] = (uint8_t)(2 + 2 * length);
    usb.text[1] = 3;
    reply(usb.text, usb.text[0], asked);
}

static void reply_descriptor(uint16_t value, uint16_t asked) {
    switch (value >> 8) {
    case 1: reply(device, sizeof device, asked); break;
    case 2: reply(configuration, sizeof configuration, asked); break;
    case 3:
        if ((value & 0xff) < STRINGS) {
            reply_string((uint8_t)value, asked);
            break;
        }
        refuse();
        break;
    default: refuse(); break;
    }
}

static void configure(bool on) {
    ENDPOINT_IN(NOTICES) = ENDPOINT(INTERRUPT, NOTICE_AT);
    ENDPOINT_IN(DATA) = ENDPOINT(BULK, IN_AT);
    ENDPOINT_OUT(DATA) = ENDPOINT(BULK, OUT_AT);
    usb.in_odd = usb.out_odd = usb.in_busy = usb.out_asked = usb.open = false;
    usb.configured = on;
    acknowledge();
}

static void open_line(bool open) {
    if (open && !usb.open)
        link_rings.tx_tail = link_rings.tx_head;
    usb.open = open;
    acknowledge();
}

static void take_setup(void) {
    static const uint8_t nothing[2];
    uint8_t kind = BYTE(0);
    uint16_t request = (uint16_t)(kind << 8 | BYTE(1)), value = (uint16_t)(BYTE(2) | BYTE(3) << 8);
    uint16_t asked = (uint16_t)(BYTE(6) | BYTE(7) << 8);
    usb.takes_coding = false;
    switch (request) {
    case 0x8006: reply_descriptor(value, asked); break;
    case 0x0005: usb.address = (uint8_t)value; acknowledge(); break;
    case 0x0009: configure(value != 0); break;
    case 0x2120: usb.takes_coding = true; take_control(sizeof line_coding); break;
    case 0xa121: reply(line_coding, sizeof line_coding, asked); break;
    case 0x2122: open_line(value & 1u); break;
    case 0x8000: case 0x8100: case 0x8200: reply(nothing, 2, asked); break; /* status */
    case 0x8008: usb.text[0] = usb.configured; reply(usb.text, 1, asked); break;
    default:
        if (kind & 0x80)
            refuse();
        else
            acknowledge();
        break;
    }
}

static void take_coding(void) {
    usb.takes_coding = false;
    for (uint8_t i = 0; i < sizeof line_coding; i++)
        line_coding[i] = BYTE(CONTROL_AT + i);
    acknowledge();
}

static void take_data(void) {
    uint16_t length = FROM_COMPUTER(DATA) & LENGTH;
    usb.out_asked = false;
    for (uint16_t i = 0; i < length; i++)
        link_received(BYTE(OUT_AT + i));
}

static void take_done(void) {
    uint32_t done = BUFFERS_DONE;
    BUFFERS_DONE = done;
    if (done & 1u) {
        if (usb.address != 0)
            REG(USB) = usb.address;
        usb.address = 0;
        if (usb.left != 0)
            reply_on();
        else
            take_control(0);
    }
    if (done & 2u && usb.takes_coding)
        take_coding();
    if (done & 1u << (2 * DATA))
        usb.in_busy = false;
    if (done & 2u << (2 * DATA))
        take_data();
}

static void send_on(void) {
    uint8_t length = 0, byte;
    if (!usb.open || usb.in_busy)
        return;
    while (length < TO_COMPUTER_MOST && link_next(&byte))
        BYTE(IN_AT + length++) = byte;
    if (length == 0)
        return;
    usb.in_busy = true;
    arm(&TO_COMPUTER(DATA), length | FULL | (usb.in_odd ? DATA1 : 0));
    usb.in_odd = !usb.in_odd;
}

static void ask_for_more(void) {
    uint8_t waiting = (uint8_t)((link_rings.rx_head - link_rings.rx_tail) & (LINK_RX_BYTES - 1u));
    if (!usb.configured || usb.out_asked || waiting > LINK_RX_BYTES - PACKET - 2)
        return;
    usb.out_asked = true;
    arm(&FROM_COMPUTER(DATA), PACKET | (usb.out_odd ? DATA1 : 0));
    usb.out_odd = !usb.out_odd;
}

/* Also pended by port_send(), and once a millisecond: a ring that was full has room again. */
void usb_interrupt(void) {
    uint32_t why = INTERRUPTS;
    if (why & RESET_INTERRUPT) {
        SIE_STATUS = SIE_RESET;
        REG(USB) = 0;
        memset(&usb, 0, sizeof usb);
    }
    if (why & SETUP_INTERRUPT) {
        SIE_STATUS = SIE_SETUP;
        take_setup();
    }
    if (why & BUFFER_INTERRUPT)
        take_done();
    send_on();
    ask_for_more();
}

/* After the clocks are set: the controller in device mode, its pull-up last. */
void usb_boot(void) {
    for (uint32_t at = 0; at < 0x100; at += 4)
        REG(DPRAM + at) = 0;
    MUXING = 1u | 1u << 3;     /* to the PHY, connected by software */
    POWER = 1u << 2 | 1u << 3; /* there is a bus, whatever the pin for its voltage says */
    MAIN_CONTROL = 1;
    SIE_CONTROL = 1u << 29; /* an interrupt for each buffer of endpoint 0 */
    INTERRUPTS_ON = BUFFER_INTERRUPT | RESET_INTERRUPT | SETUP_INTERRUPT;
    SIE_CONTROL = 1u << 29 | 1u << 16;
}
