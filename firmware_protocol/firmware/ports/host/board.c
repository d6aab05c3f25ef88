/* A winding machine as a process: the core, the model of a spindle, and a pseudo-terminal for a serial line.
 *
 * Runs in real time. The first line it prints is the path to open. The other end may open and close it as
 * often as it likes; a pseudo-terminal has no baud rate. Ends on SIGTERM or SIGINT, and then prints how many
 * counts the spindle has truly turned. With --hands it reads what hand and foot do from its standard input, line by line:
 * pedal down, pedal up, stop pressed, stop released. With --guide there is a limit switch 5 mm left of where the guide
 * stands: limit sound, limit never, limit loose, limit stuck.
 */
#define _DEFAULT_SOURCE
#define _XOPEN_SOURCE 700
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "model.h"

#define RPM_MAX 1200
#define LIMIT_AT (-2000) /* steps, of 2.5 um */
#define END_STEPS 40     /* beyond it the guide stands, and its motor slips */
#define LOOSE_MS 10      /* that a loose switch is met */
#define WORDS "pedal down, pedal up, stop pressed, stop released, limit sound, limit never, limit loose or limit stuck"

static volatile sig_atomic_t ended;
static enum { SOUND, NEVER, LOOSE, STUCK } limit;

static void end(int signal_number) {
    (void)signal_number;
    ended = 1;
}

static void fail(const char *what) {
    fprintf(stderr, "winder-host-board: %s: %s\n", what, strerror(errno));
    exit(1);
}

static int open_line(const char *link_path, int *kept_open) {
    int line = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK);
    if (line < 0 || grantpt(line) != 0 || unlockpt(line) != 0)
        fail("no pseudo-terminal");
    const char *path = ptsname(line);
    *kept_open = open(path, O_RDWR | O_NOCTTY); /* else reading fails whenever no one has it open */
    struct termios raw;
    if (*kept_open < 0 || tcgetattr(*kept_open, &raw) != 0)
        fail(path);
    cfmakeraw(&raw);
    tcsetattr(*kept_open, TCSANOW, &raw);
    if (link_path != NULL) {
        unlink(link_path);
        if (symlink(path, link_path) != 0)
            fail(link_path);
    }
    printf("%s\n", path);
    fflush(stdout);
    return line;
}

static void exchange(int line) {
    uint8_t bytes[4096];
    ssize_t got = read(line, bytes, sizeof bytes);
    if (got > 0)
        host_receive(bytes, (size_t)got);
    size_t length = host_sent(bytes, sizeof bytes);
    size_t done = 0;
    while (done < length) {
        ssize_t written = write(line, bytes + done, length - done);
        if (written <= 0)
            break; /* nobody reads: a serial line would lose it, too */
        done += (size_t)written;
    }
}

/* One line of what hand and foot do; false: no such thing. */
static bool do_by_hand(const char *line) {
    if (strcmp(line, "pedal down") == 0)
        host.pedal_pressed = true;
    else if (strcmp(line, "pedal up") == 0)
        host.pedal_pressed = false;
    else if (strcmp(line, "stop pressed") == 0)
        host.stop_pressed = true;
    else if (strcmp(line, "stop released") == 0)
        host.stop_pressed = false;
    else if (strcmp(line, "limit sound") == 0)
        limit = SOUND;
    else if (strcmp(line, "limit never") == 0)
        limit = NEVER;
    else if (strcmp(line, "limit loose") == 0)
        limit = LOOSE;
    else if (strcmp(line, "limit stuck") == 0)
        limit = STUCK;
    else
        return false;
    return true;
}

static void look_at_hands(void) {
    static char line[64];
    static size_t length;
    char byte;
    while (read(STDIN_FILENO, &byte, 1) == 1) {
        if (byte != '\n') {
            if (length < sizeof line - 1)
                line[length++] = byte;
            continue;
        }
        line[length] = 0;
        length = 0;
        if (!do_by_hand(line))
            fprintf(stderr, "winder-host-board: say " WORDS "\n");
    }
}

static void look_at_limit(void) {
    static int met_ms;
    if (host.guide_steps < LIMIT_AT - END_STEPS)
        host.guide_steps = LIMIT_AT - END_STEPS;
    bool there = host.guide_steps <= LIMIT_AT;
    met_ms = there ? met_ms + 1 : 0;
    host.limit_met = limit == STUCK || (there && (limit == SOUND || (limit == LOOSE && met_ms <= LOOSE_MS)));
}

/* Returns the counts the spindle has turned. */
static int32_t run(int line, bool hands, bool guide) {
    struct timespec due;
    int32_t turned = 0;
    clock_gettime(CLOCK_MONOTONIC, &due);
    while (!ended) {
        due.tv_nsec += 1000000;
        if (due.tv_nsec >= 1000000000) {
            due.tv_nsec -= 1000000000;
            due.tv_sec++;
        }
        clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &due, NULL);
        if (hands)
            look_at_hands();
        if (guide)
            look_at_limit();
        turned = model_run(1);
        exchange(line);
    }
    return turned;
}

static unsigned long number(const char *text, unsigned long low, unsigned long high, const char *option) {
    char *rest;
    unsigned long value = strtoul(text, &rest, 10);
    if (*text == 0 || *rest != 0 || value < low || value > high) {
        fprintf(stderr, "winder-host-board: %s takes a whole number from %lu to %lu, not %s\n", option, low,
                high, text);
        exit(2);
    }
    return value;
}

/* Somebody is there for pedal and stop switch; who is not, cannot press them. */
static void wire_pedal(void) {
    settings.inputs |= WIRED_PEDAL | WIRED_STOP_INPUT;
    identity.groups[GROUP_PEDAL - 1] = 1;
    identity.has |= HAS_PEDAL | HAS_STOP_INPUT;
    fcntl(STDIN_FILENO, F_SETFL, O_NONBLOCK);
}

static void wire_limit(void) {
    settings.inputs |= WIRED_LIMIT_SWITCH;
    identity.groups[GROUP_TRAVERSE - 1] = 2;
    identity.has |= HAS_LIMIT_SWITCH;
}

static void usage(void) {
    fprintf(stderr, "usage: winder-host-board [--counts-per-turn N] [--brake] [--hands] [--guide] [--seed N] [--link PATH]\n");
    exit(2);
}

int main(int count, char **words) {
    unsigned long counts_per_turn = 16, seed = 1;
    const char *link_path = NULL;
    bool brake = false, hands = false, guide = false;
    for (int i = 1; i < count; i++) {
        bool more = i + 1 < count;
        if (strcmp(words[i], "--brake") == 0)
            brake = true;
        else if (strcmp(words[i], "--hands") == 0)
            hands = true;
        else if (strcmp(words[i], "--guide") == 0)
            guide = true;
        else if (strcmp(words[i], "--counts-per-turn") == 0 && more)
            counts_per_turn = number(words[++i], 1, 4096, "--counts-per-turn");
        else if (strcmp(words[i], "--seed") == 0 && more)
            seed = number(words[++i], 0, 4294967295ul, "--seed");
        else if (strcmp(words[i], "--link") == 0 && more)
            link_path = words[++i];
        else
            usage();
    }
    uint32_t counts = (uint32_t)counts_per_turn;
    settings.full_rate_mcps = counts * (RPM_MAX * 1000u / 60u);
    settings.full_accel_mcps2 = 4u * settings.full_rate_mcps; /* full speed within a quarter of a second */
    settings.brake_permille = brake ? 500 : 0;
    identity.rate_max_mcps = settings.rate_max_mcps = settings.full_rate_mcps / 10 * 9;
    identity.edge_rate_max_cps = 100000; /* far more than the model can turn */
    identity.has = brake ? HAS_BRAKE : 0;
    if (hands)
        wire_pedal();
    if (guide)
        wire_limit();
    model_build((uint32_t)seed, brake);
    signal(SIGTERM, end);
    signal(SIGINT, end);
    signal(SIGHUP, end);
    int kept_open;
    int line = open_line(link_path, &kept_open);
    host_boot(false);
    printf("%ld counts turned\n", (long)run(line, hands, guide));
    close(kept_open);
    if (link_path != NULL)
        unlink(link_path);
    return 0;
}
