/*
 * The device's side of the sensor protocol, version 1 (SPEC.md), in C99: makes the frames that a device sends and reads those
 * that a server sends. One header, one source; no allocation, no state, no I/O. Needs string.h, stdint.h, stddef.h, stdbool.h.
 *
 *   uint8_t frame[AMB_DEVICE_FRAME_BYTES_MAX];
 *   size_t length = amb_encode_hello(frame, sizeof frame, &hello);     0: a value outside its range, or too little room
 *   ... send the bytes as one binary WebSocket message ...
 *
 *   amb_server_frame message;
 *   uint16_t error = amb_decode(bytes, length, &message);              0, or AMB_ERROR_...
 *   if (error == 0 && message.type == AMB_TYPE_TIME_REQUEST) ...
 *
 * AMB_ERROR_UNKNOWN_TYPE: ignore the frame. Any other error of a server's frame: close with 1002.
 */
#ifndef AMBIPEDE_PROTOCOL_H
#define AMBIPEDE_PROTOCOL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define AMB_PROTOCOL_VERSION 1u

/* Limits of SPEC.md, section 6, under their names there. */
#define AMB_FRAME_BYTES_MAX 4096u
#define AMB_SERVER_FRAME_BYTES_MAX 520u
#define AMB_SAMPLES_PER_FRAME_MAX 200u
#define AMB_DEVICE_ID_BYTES_MAX 64u
#define AMB_TOKEN_BYTES_MIN 16u
#define AMB_TOKEN_BYTES_MAX 64u
#define AMB_ERROR_TEXT_BYTES_MAX 512u
#define AMB_HELLO_WAIT_MS 5000u
#define AMB_SILENCE_MS 10000u
#define AMB_SERVER_SILENCE_MS 5000u
#define AMB_RECONNECT_PAUSE_MS_MIN 200u
#define AMB_RECONNECT_PAUSE_MS_MAX 5000u
#define AMB_REFUSED_PAUSE_MS 60000u
#define AMB_REFUSALS_MAX 3u
#define AMB_FRAME_COST 10u
#define AMB_ALLOWANCE_PER_SECOND 40000u
#define AMB_ALLOWANCE_BURST 120000u

/* Values of hello and samples. */
#define AMB_CHANNELS_ACCEL_GYRO 3u
#define AMB_CHANNELS_WITH_MAGN 7u
#define AMB_ACCEL_SCALE_MIN 4788550u
#define AMB_ACCEL_SCALE_MAX 100000000u
#define AMB_GYRO_SCALE_MIN 1065297u
#define AMB_GYRO_SCALE_MAX 20000000u
#define AMB_MAGN_SCALE_NONE 0u
#define AMB_MAGN_SCALE_MIN 13u
#define AMB_MAGN_SCALE_MAX 1000u
#define AMB_TICK_MAX UINT64_C(9007199254740991)

/* Values of status for "not known". */
#define AMB_BATTERY_UNKNOWN 255u
#define AMB_TEMPERATURE_UNKNOWN (-32768)

/* int16 values of one sample, and the room that a frame of so many samples needs. */
#define AMB_SAMPLE_VALUES(channels) ((channels) == AMB_CHANNELS_WITH_MAGN ? 9u : 6u)
#define AMB_SAMPLES_FRAME_BYTES(count, channels) (36u + (count) * 2u * AMB_SAMPLE_VALUES(channels))
/* The longest frame of a device: samples with a magnetometer. */
#define AMB_DEVICE_FRAME_BYTES_MAX AMB_SAMPLES_FRAME_BYTES(AMB_SAMPLES_PER_FRAME_MAX, AMB_CHANNELS_WITH_MAGN)

#define AMB_TYPE_HELLO 1u
#define AMB_TYPE_WELCOME 2u
#define AMB_TYPE_SAMPLES 3u
#define AMB_TYPE_ACKNOWLEDGEMENT 4u
#define AMB_TYPE_STATUS 5u
#define AMB_TYPE_TIME_REQUEST 6u
#define AMB_TYPE_TIME_RESPONSE 7u
#define AMB_TYPE_ERROR 8u
#define AMB_TYPE_GOODBYE 9u

/* The error catalogue: what a server's error frame says, and (1 to 20) what amb_decode finds. */
#define AMB_CLOSE_CODE_BASE 4000u
#define AMB_ERROR_TOO_SHORT 1u
#define AMB_ERROR_BAD_MAGIC 2u
#define AMB_ERROR_UNSUPPORTED_VERSION 3u
#define AMB_ERROR_UNKNOWN_TYPE 4u
#define AMB_ERROR_WRONG_LENGTH 5u
#define AMB_ERROR_OUT_OF_RANGE 6u
#define AMB_ERROR_BAD_DEVICE_ID 7u
#define AMB_ERROR_BAD_TEXT 8u
#define AMB_ERROR_CRC_MISMATCH 9u
#define AMB_ERROR_TOO_LONG 10u
#define AMB_ERROR_NOT_BINARY 11u
#define AMB_ERROR_WRONG_DIRECTION 20u
#define AMB_ERROR_HELLO_EXPECTED 21u
#define AMB_ERROR_HELLO_REPEATED 22u
#define AMB_ERROR_HELLO_LATE 23u
#define AMB_ERROR_WELCOME_PENDING 24u
#define AMB_ERROR_WRONG_BOOT 25u
#define AMB_ERROR_UNKNOWN_EXCHANGE 26u
#define AMB_ERROR_SAMPLES_LATE 27u
#define AMB_ERROR_TICK_IMPLAUSIBLE 28u
#define AMB_ERROR_HELLO_CHANGED 29u
#define AMB_ERROR_WRONG_CHANNELS 30u
#define AMB_ERROR_REPLACED 40u
#define AMB_ERROR_NOT_ENROLLED 41u
#define AMB_ERROR_TIME_MISSING 42u
#define AMB_ERROR_CLOCK_UNSTEADY 43u
#define AMB_ERROR_TOO_FAST 44u
#define AMB_ERROR_TOO_SLOW 45u
#define AMB_ERROR_TOO_MANY_ERRORS 46u
#define AMB_ERROR_RESEND_NEEDED 47u
#define AMB_ERROR_SERVER_FULL 48u
#define AMB_ERROR_SILENT 49u

typedef struct {
    uint32_t boot_id;
    uint32_t rate_millihertz;
    uint32_t accel_scale; /* nm/s^2 per count */
    uint32_t gyro_scale;  /* nrad/s per count */
    uint32_t magn_scale;  /* nT per count, AMB_MAGN_SCALE_NONE without a magnetometer */
    uint8_t channels;
    const char *device_id; /* need not end with a zero */
    size_t device_id_bytes;
    const uint8_t *token;
    size_t token_bytes;
} amb_hello;

typedef struct {
    uint32_t boot_id;
    uint32_t first_sequence;
    uint32_t oldest_sequence; /* oldest sample still kept */
    uint64_t first_tick_us;
    uint32_t interval_us;
    uint16_t count; /* samples, not values */
    uint8_t channels;
    const int16_t *values; /* count x AMB_SAMPLE_VALUES(channels): ax ay az gx gy gz [mx my mz] */
} amb_samples;

typedef struct {
    uint32_t boot_id;
    uint64_t tick_us;
    uint8_t battery_percent;
    int16_t temperature_centi_c;
    uint32_t buffered_samples;
    uint32_t buffer_capacity;
    uint32_t dropped_samples;
} amb_status;

typedef struct {
    uint32_t exchange_id;     /* as it came */
    uint64_t server_utc_us;   /* as it came */
    uint64_t receive_tick_us; /* when the request arrived */
    uint64_t transmit_tick_us;
} amb_time_response;

typedef struct {
    uint32_t boot_id;
    uint8_t reason; /* 0 not said, 1 switched off, 2 battery empty, 3 updating */
} amb_goodbye;

/* Bytes written to `frame`; 0 when a value is outside its range or `room` is too small, and then nothing was written. */
size_t amb_encode_hello(uint8_t *frame, size_t room, const amb_hello *hello);
size_t amb_encode_samples(uint8_t *frame, size_t room, const amb_samples *samples);
size_t amb_encode_status(uint8_t *frame, size_t room, const amb_status *status);
size_t amb_encode_time_response(uint8_t *frame, size_t room, const amb_time_response *response);
size_t amb_encode_goodbye(uint8_t *frame, size_t room, const amb_goodbye *goodbye);

/* A frame of the server; which fields are set depends on `type`, the others are 0. */
typedef struct {
    uint8_t type;           /* AMB_TYPE_WELCOME, _ACKNOWLEDGEMENT, _TIME_REQUEST or _ERROR */
    uint32_t boot_id;       /* welcome, acknowledgement */
    uint32_t next_sequence; /* welcome, acknowledgement */
    uint32_t exchange_id;   /* time request */
    uint64_t server_utc_us; /* time request */
    uint16_t error_code;    /* error: AMB_ERROR_..., or one that is not known yet */
    const char *text;       /* error: UTF-8 within `frame`, without a zero at its end */
    size_t text_bytes;
} amb_server_frame;

/*
 * Reads one frame; never beyond `length` bytes, which may be any. Returns 0, or the error of the catalogue: then `message` is all
 * zeros. A frame that only devices send is AMB_ERROR_WRONG_DIRECTION.
 */
uint16_t amb_decode(const uint8_t *frame, size_t length, amb_server_frame *message);

/* CRC-32C, with a table of 16 words. */
uint32_t amb_crc32c(const uint8_t *bytes, size_t length);

#ifdef __cplusplus
}
#endif

#endif
