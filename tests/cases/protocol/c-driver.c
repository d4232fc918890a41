/*
 * Runs the C encoder and decoder for c-codec.test.ts: one command a line on stdin, one answer a line on stdout.
 *
 *   hello BOOT RATE ACCEL GYRO MAGN CHANNELS ID TOKEN     (ID, TOKEN in hexadecimal digits, - for none)
 *   samples BOOT FIRST OLDEST TICK INTERVAL COUNT CHANNELS VALUE...
 *   status BOOT TICK BATTERY TEMPERATURE BUFFERED CAPACITY DROPPED
 *   timeResponse EXCHANGE T1 T2 T3
 *   goodbye BOOT REASON                                   -> the frame in hexadecimal digits, or "refused"
 *   decode FRAME                                          -> the fields, or "error N"
 *   cut FRAME                                             -> how many of its beginnings were refused
 *   fuzz SEED ROUNDS                                      -> how many frames were refused
 *
 * Every frame lies in memory of exactly its length, so that a sanitizer sees what goes beyond.
 */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ambipede_protocol.h"

#define LINE_BYTES_MAX 40000
#define VALUES_MAX (AMB_SAMPLES_PER_FRAME_MAX * 9u + 16u)

static char line[LINE_BYTES_MAX];

static void fail(const char *what)
{
    fprintf(stderr, "%s\n", what);
    exit(1);
}

static void *must_have(size_t bytes)
{
    void *memory = malloc(bytes > 0 ? bytes : 1);
    if (memory == NULL) fail("out of memory");
    return memory;
}

static const char *word(void)
{
    const char *next = strtok(NULL, " \n");
    if (next == NULL) fail("a word is missing");
    return next;
}

static uint64_t number(void) { return strtoull(word(), NULL, 10); }

static uint8_t *unhex(const char *digits, size_t *bytes)
{
    *bytes = digits[0] == '-' ? 0 : strlen(digits) / 2;
    uint8_t *memory = must_have(*bytes);
    for (size_t i = 0; i < *bytes; i++) {
        const char pair[3] = {digits[2 * i], digits[2 * i + 1], 0};
        memory[i] = (uint8_t)strtoul(pair, NULL, 16);
    }
    return memory;
}

static void print_hex(const uint8_t *bytes, size_t length)
{
    for (size_t i = 0; i < length; i++) printf("%02x", bytes[i]);
}

typedef size_t (*encoder)(uint8_t *frame, size_t room, const void *message);

static size_t any_hello(uint8_t *frame, size_t room, const void *m) { return amb_encode_hello(frame, room, m); }
static size_t any_samples(uint8_t *frame, size_t room, const void *m) { return amb_encode_samples(frame, room, m); }
static size_t any_status(uint8_t *frame, size_t room, const void *m) { return amb_encode_status(frame, room, m); }
static size_t any_response(uint8_t *frame, size_t room, const void *m) { return amb_encode_time_response(frame, room, m); }
static size_t any_goodbye(uint8_t *frame, size_t room, const void *m) { return amb_encode_goodbye(frame, room, m); }

/* Encodes with ample room, then with exactly enough, then with every room that is too small. */
static void answer_encoded(encoder encode, const void *message)
{
    uint8_t ample[AMB_FRAME_BYTES_MAX];
    const size_t length = encode(ample, sizeof ample, message);
    if (length == 0) {
        printf("refused\n");
        return;
    }
    for (size_t room = 0; room <= length; room++) {
        uint8_t *tight = must_have(room);
        const size_t written = encode(tight, room, message);
        if (written != (room == length ? length : 0)) fail("a frame in too little room");
        if (room == length && memcmp(tight, ample, length) != 0) fail("another frame in exactly enough room");
        free(tight);
    }
    print_hex(ample, length);
    printf("\n");
}

static void encode_hello(void)
{
    amb_hello hello = {0};
    hello.boot_id = (uint32_t)number();
    hello.rate_millihertz = (uint32_t)number();
    hello.accel_scale = (uint32_t)number();
    hello.gyro_scale = (uint32_t)number();
    hello.magn_scale = (uint32_t)number();
    hello.channels = (uint8_t)number();
    uint8_t *id = unhex(word(), &hello.device_id_bytes);
    uint8_t *token = unhex(word(), &hello.token_bytes);
    hello.device_id = (const char *)id;
    hello.token = token;
    answer_encoded(any_hello, &hello);
    free(id);
    free(token);
}

static void encode_samples(void)
{
    amb_samples samples = {0};
    samples.boot_id = (uint32_t)number();
    samples.first_sequence = (uint32_t)number();
    samples.oldest_sequence = (uint32_t)number();
    samples.first_tick_us = number();
    samples.interval_us = (uint32_t)number();
    samples.count = (uint16_t)number();
    samples.channels = (uint8_t)number();
    int16_t values[VALUES_MAX];
    size_t n = 0;
    for (const char *next = strtok(NULL, " \n"); next != NULL; next = strtok(NULL, " \n")) {
        if (n == VALUES_MAX) fail("too many values");
        values[n++] = (int16_t)strtol(next, NULL, 10);
    }
    int16_t *exact = must_have(n * sizeof values[0]);
    memcpy(exact, values, n * sizeof values[0]);
    samples.values = exact;
    answer_encoded(any_samples, &samples);
    free(exact);
}

static void encode_status(void)
{
    amb_status status = {0};
    status.boot_id = (uint32_t)number();
    status.tick_us = number();
    status.battery_percent = (uint8_t)number();
    status.temperature_centi_c = (int16_t)strtol(word(), NULL, 10);
    status.buffered_samples = (uint32_t)number();
    status.buffer_capacity = (uint32_t)number();
    status.dropped_samples = (uint32_t)number();
    answer_encoded(any_status, &status);
}

static void encode_time_response(void)
{
    amb_time_response response = {0};
    response.exchange_id = (uint32_t)number();
    response.server_utc_us = number();
    response.receive_tick_us = number();
    response.transmit_tick_us = number();
    answer_encoded(any_response, &response);
}

static void encode_goodbye(void)
{
    amb_goodbye goodbye = {0};
    goodbye.boot_id = (uint32_t)number();
    goodbye.reason = (uint8_t)number();
    answer_encoded(any_goodbye, &goodbye);
}

static void decode(void)
{
    size_t length = 0;
    uint8_t *frame = unhex(word(), &length);
    amb_server_frame m;
    const unsigned error = amb_decode(frame, length, &m);
    if (error != 0) {
        printf("error %u\n", error);
    } else {
        printf("%u %" PRIu32 " %" PRIu32 " %" PRIu32 " %" PRIu64 " %u ", (unsigned)m.type, m.boot_id, m.next_sequence,
               m.exchange_id, m.server_utc_us, (unsigned)m.error_code);
        if (m.text_bytes == 0) printf("-");
        print_hex((const uint8_t *)m.text, m.text_bytes);
        printf("\n");
    }
    free(frame);
}

static bool is_refused(const uint8_t *bytes, size_t length)
{
    uint8_t *exact = must_have(length);
    if (length > 0) memcpy(exact, bytes, length);
    amb_server_frame message;
    amb_server_frame nothing;
    memset(&message, 0xa5, sizeof message);
    memset(&nothing, 0, sizeof nothing);
    const bool refused = amb_decode(exact, length, &message) != 0;
    if (refused && memcmp(&message, &nothing, sizeof message) != 0) fail("a refused frame left something behind");
    free(exact);
    return refused;
}

static void cut(void)
{
    size_t length = 0;
    uint8_t *frame = unhex(word(), &length);
    size_t refused = 0;
    for (size_t kept = 0; kept < length; kept++) refused += is_refused(frame, kept);
    printf("%zu\n", refused);
    free(frame);
}

/* Bytes behind a good header, of any type and any length up to one beyond the limit. */
static void fuzz(void)
{
    uint32_t state = (uint32_t)number();
    const uint64_t rounds = number();
    uint64_t refused = 0;
    uint8_t frame[AMB_FRAME_BYTES_MAX + 1];
    for (uint64_t round = 0; round < rounds; round++) {
        for (size_t i = 0; i < sizeof frame; i++) {
            state = state * 1664525u + 1013904223u; /* Knuth's linear congruence, as in Numerical Recipes */
            frame[i] = (uint8_t)(state >> 24);
        }
        const size_t length = round % 16 == 0 ? sizeof frame - (frame[5] & 1u) : (size_t)frame[4] % 48u;
        const uint8_t header[4] = {0x41, 0x50, 1, (uint8_t)(frame[3] % 12u)};
        memcpy(frame, header, sizeof header);
        /* Half of the error frames have the length that they say. */
        if (frame[3] == AMB_TYPE_ERROR && (frame[8] & 1u) != 0 && length >= 8 && length < 520) {
            frame[5] = 0;
            frame[6] = (uint8_t)(length - 8);
            frame[7] = 0;
        }
        refused += is_refused(frame, length);
    }
    printf("%" PRIu64 "\n", refused);
}

int main(void)
{
    while (fgets(line, sizeof line, stdin) != NULL) {
        const char *command = strtok(line, " \n");
        if (command == NULL) continue;
        if (strcmp(command, "hello") == 0) encode_hello();
        else if (strcmp(command, "samples") == 0) encode_samples();
        else if (strcmp(command, "status") == 0) encode_status();
        else if (strcmp(command, "timeResponse") == 0) encode_time_response();
        else if (strcmp(command, "goodbye") == 0) encode_goodbye();
        else if (strcmp(command, "decode") == 0) decode();
        else if (strcmp(command, "cut") == 0) cut();
        else if (strcmp(command, "fuzz") == 0) fuzz();
        else fail("a command that there is not");
    }
    return 0;
}
