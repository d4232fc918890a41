/* See ambipede_protocol.h, and SPEC.md for what every field means. */
#include "ambipede_protocol.h"

#include <string.h>

#define MAGIC 0x5041u
#define HEADER_BYTES 4u
#define CRC_BYTES 4u
#define HELLO_BYTES 28u
#define SAMPLES_BYTES 32u
#define STATUS_BYTES 32u
#define TIME_RESPONSE_BYTES 32u
#define GOODBYE_BYTES 9u
#define WELCOME_BYTES 12u
#define TIME_REQUEST_BYTES 16u
#define ERROR_BYTES 8u
#define ERROR_CODE_MAX 999u

/* ---- Numbers, lowest byte first, whatever the processor does. ---- */

static uint8_t *put_u8(uint8_t *at, uint32_t value)
{
    at[0] = (uint8_t)(value & 0xffu);
    return at + 1;
}
static uint8_t *put_u16(uint8_t *at, uint32_t value) { return put_u8(put_u8(at, value), value >> 8); }
static uint8_t *put_u32(uint8_t *at, uint32_t value) { return put_u16(put_u16(at, value), value >> 16); }
static uint8_t *put_u64(uint8_t *at, uint64_t value)
{
    return put_u32(put_u32(at, (uint32_t)(value & UINT32_MAX)), (uint32_t)(value >> 32));
}

static uint8_t *put_header(uint8_t *at, uint32_t type)
{
    return put_u8(put_u8(put_u16(at, MAGIC), AMB_PROTOCOL_VERSION), type);
}

static uint16_t get_u16(const uint8_t *at) { return (uint16_t)(at[0] | (uint32_t)at[1] << 8); }
static uint32_t get_u32(const uint8_t *at) { return get_u16(at) | (uint32_t)get_u16(at + 2) << 16; }
static uint64_t get_u64(const uint8_t *at) { return get_u32(at) | (uint64_t)get_u32(at + 4) << 32; }

static bool is_within(uint32_t value, uint32_t least, uint32_t most) { return value >= least && value <= most; }

static bool is_channels(uint8_t channels)
{
    return channels == AMB_CHANNELS_ACCEL_GYRO || channels == AMB_CHANNELS_WITH_MAGN;
}

uint32_t amb_crc32c(const uint8_t *bytes, size_t length)
{
    /* Reflected polynomial 0x82f63b78, four bits at a time. */
    static const uint32_t table[16] = {
        0x00000000u, 0x105ec76fu, 0x20bd8edeu, 0x30e349b1u, 0x417b1dbcu, 0x5125dad3u, 0x61c69362u, 0x7198540du,
        0x82f63b78u, 0x92a8fc17u, 0xa24bb5a6u, 0xb21572c9u, 0xc38d26c4u, 0xd3d3e1abu, 0xe330a81au, 0xf36e6f75u,
    };
    uint32_t crc = UINT32_MAX;
    for (size_t i = 0; i < length; i++) {
        crc ^= bytes[i];
        crc = (crc >> 4) ^ table[crc & 0xfu];
        crc = (crc >> 4) ^ table[crc & 0xfu];
    }
    return ~crc;
}

/* ---- Frames of the device. ---- */

static bool is_device_id(const char *id, size_t length)
{
    if (id == NULL || length < 1 || length > AMB_DEVICE_ID_BYTES_MAX) return false;
    for (size_t i = 0; i < length; i++) {
        const char c = id[i];
        /* By number: the letters of the compiler's character set need not be those of ASCII. */
        const bool is_letter = (c >= 0x41 && c <= 0x5a) || (c >= 0x61 && c <= 0x7a);
        if (!is_letter && !(c >= 0x30 && c <= 0x39) && c != 0x2e && c != 0x5f && c != 0x2d) return false;
    }
    return true;
}

size_t amb_encode_hello(uint8_t *frame, size_t room, const amb_hello *hello)
{
    const bool has_magn = hello->channels == AMB_CHANNELS_WITH_MAGN;
    const bool is_magn_scale = has_magn ? is_within(hello->magn_scale, AMB_MAGN_SCALE_MIN, AMB_MAGN_SCALE_MAX)
                                        : hello->magn_scale == AMB_MAGN_SCALE_NONE;
    if (!is_within(hello->rate_millihertz, 1000u, 2000000u) ||
        !is_within(hello->accel_scale, AMB_ACCEL_SCALE_MIN, AMB_ACCEL_SCALE_MAX) ||
        !is_within(hello->gyro_scale, AMB_GYRO_SCALE_MIN, AMB_GYRO_SCALE_MAX) ||
        !is_magn_scale || !is_channels(hello->channels) ||
        !is_device_id(hello->device_id, hello->device_id_bytes) || hello->token_bytes > AMB_TOKEN_BYTES_MAX ||
        (hello->token == NULL && hello->token_bytes > 0)) {
        return 0;
    }
    const size_t length = HELLO_BYTES + hello->device_id_bytes + hello->token_bytes;
    if (room < length) return 0;
    uint8_t *at = put_header(frame, AMB_TYPE_HELLO);
    at = put_u32(at, hello->boot_id);
    at = put_u32(at, hello->rate_millihertz);
    at = put_u32(put_u32(put_u32(at, hello->accel_scale), hello->gyro_scale), hello->magn_scale);
    at = put_u8(at, hello->channels);
    at = put_u8(put_u8(at, (uint32_t)hello->device_id_bytes), (uint32_t)hello->token_bytes);
    at = put_u8(at, 0);
    memcpy(at, hello->device_id, hello->device_id_bytes);
    if (hello->token_bytes > 0) memcpy(at + hello->device_id_bytes, hello->token, hello->token_bytes);
    return length;
}

size_t amb_encode_samples(uint8_t *frame, size_t room, const amb_samples *samples)
{
    if (samples->oldest_sequence > samples->first_sequence || samples->first_tick_us > AMB_TICK_MAX ||
        !is_within(samples->interval_us, 500u, 1000000u) || !is_within(samples->count, 1u, AMB_SAMPLES_PER_FRAME_MAX) ||
        !is_channels(samples->channels) || samples->first_sequence > UINT32_MAX - samples->count ||
        samples->values == NULL) {
        return 0;
    }
    const size_t values = samples->count * (size_t)AMB_SAMPLE_VALUES(samples->channels);
    const size_t length = SAMPLES_BYTES + 2u * values + CRC_BYTES;
    if (room < length) return 0;
    uint8_t *at = put_header(frame, AMB_TYPE_SAMPLES);
    at = put_u32(at, samples->boot_id);
    at = put_u32(put_u32(at, samples->first_sequence), samples->oldest_sequence);
    at = put_u32(put_u64(at, samples->first_tick_us), samples->interval_us);
    at = put_u16(at, samples->count);
    at = put_u8(put_u8(at, samples->channels), 0);
    for (size_t i = 0; i < values; i++) at = put_u16(at, (uint16_t)samples->values[i]);
    put_u32(at, amb_crc32c(frame, length - CRC_BYTES));
    return length;
}

size_t amb_encode_status(uint8_t *frame, size_t room, const amb_status *status)
{
    const bool is_battery = status->battery_percent <= 100u || status->battery_percent == AMB_BATTERY_UNKNOWN;
    const bool is_temperature = (status->temperature_centi_c >= -4000 && status->temperature_centi_c <= 12500) ||
                                status->temperature_centi_c == AMB_TEMPERATURE_UNKNOWN;
    if (status->tick_us > AMB_TICK_MAX || !is_battery || !is_temperature || status->buffer_capacity < 1u) return 0;
    if (room < STATUS_BYTES) return 0;
    uint8_t *at = put_header(frame, AMB_TYPE_STATUS);
    at = put_u64(put_u32(at, status->boot_id), status->tick_us);
    at = put_u8(put_u8(at, status->battery_percent), 0);
    at = put_u16(at, (uint16_t)status->temperature_centi_c);
    put_u32(put_u32(put_u32(at, status->buffered_samples), status->buffer_capacity), status->dropped_samples);
    return STATUS_BYTES;
}

size_t amb_encode_time_response(uint8_t *frame, size_t room, const amb_time_response *response)
{
    if (response->server_utc_us > AMB_TICK_MAX || response->transmit_tick_us > AMB_TICK_MAX ||
        response->receive_tick_us > response->transmit_tick_us || room < TIME_RESPONSE_BYTES) {
        return 0;
    }
    uint8_t *at = put_header(frame, AMB_TYPE_TIME_RESPONSE);
    at = put_u64(put_u32(at, response->exchange_id), response->server_utc_us);
    put_u64(put_u64(at, response->receive_tick_us), response->transmit_tick_us);
    return TIME_RESPONSE_BYTES;
}

size_t amb_encode_goodbye(uint8_t *frame, size_t room, const amb_goodbye *goodbye)
{
    if (goodbye->reason > 3u || room < GOODBYE_BYTES) return 0;
    put_u8(put_u32(put_header(frame, AMB_TYPE_GOODBYE), goodbye->boot_id), goodbye->reason);
    return GOODBYE_BYTES;
}

/* ---- Frames of the server. ---- */

/* Bytes of the letter at the start of `text`, 0 when there is none: the table of RFC 3629, section 4. */
static size_t letter_bytes(const uint8_t *text, size_t length)
{
    const uint8_t first = text[0];
    if (first <= 0x7fu) return 1;
    size_t bytes = 0;
    uint8_t least = 0x80u, most = 0xbfu;
    if (first >= 0xc2u && first <= 0xdfu) bytes = 2;
    else if (first >= 0xe0u && first <= 0xefu) bytes = 3;
    else if (first >= 0xf0u && first <= 0xf4u) bytes = 4;
    if (bytes == 0 || length < bytes) return 0;
    if (first == 0xe0u) least = 0xa0u;
    else if (first == 0xedu) most = 0x9fu;
    else if (first == 0xf0u) least = 0x90u;
    else if (first == 0xf4u) most = 0x8fu;
    if (text[1] < least || text[1] > most) return 0;
    for (size_t i = 2; i < bytes; i++) {
        if ((text[i] & 0xc0u) != 0x80u) return 0;
    }
    return bytes;
}

static bool is_utf8(const uint8_t *text, size_t length)
{
    size_t bytes = 1;
    for (size_t at = 0; at < length && bytes > 0; at += bytes) bytes = letter_bytes(text + at, length - at);
    return bytes > 0;
}

static uint16_t decode_error(const uint8_t *frame, size_t length, amb_server_frame *message)
{
    if (length < ERROR_BYTES) return AMB_ERROR_TOO_SHORT;
    const uint16_t code = get_u16(frame + 4);
    const size_t text_bytes = get_u16(frame + 6);
    if (!is_within(code, 1u, ERROR_CODE_MAX) || text_bytes > AMB_ERROR_TEXT_BYTES_MAX) return AMB_ERROR_OUT_OF_RANGE;
    if (length != ERROR_BYTES + text_bytes) return AMB_ERROR_WRONG_LENGTH;
    if (!is_utf8(frame + ERROR_BYTES, text_bytes)) return AMB_ERROR_BAD_TEXT;
    message->error_code = code;
    message->text = (const char *)(frame + ERROR_BYTES);
    message->text_bytes = text_bytes;
    message->type = AMB_TYPE_ERROR;
    return 0;
}

static uint16_t decode_time_request(const uint8_t *frame, size_t length, amb_server_frame *message)
{
    if (length < TIME_REQUEST_BYTES) return AMB_ERROR_TOO_SHORT;
    const uint64_t server_utc_us = get_u64(frame + 8);
    if (server_utc_us > AMB_TICK_MAX) return AMB_ERROR_OUT_OF_RANGE;
    if (length != TIME_REQUEST_BYTES) return AMB_ERROR_WRONG_LENGTH;
    message->exchange_id = get_u32(frame + 4);
    message->server_utc_us = server_utc_us;
    message->type = AMB_TYPE_TIME_REQUEST;
    return 0;
}

/* Welcome and acknowledgement have the same fields. */
static uint16_t decode_position(const uint8_t *frame, size_t length, amb_server_frame *message)
{
    if (length < WELCOME_BYTES) return AMB_ERROR_TOO_SHORT;
    if (length != WELCOME_BYTES) return AMB_ERROR_WRONG_LENGTH;
    message->boot_id = get_u32(frame + 4);
    message->next_sequence = get_u32(frame + 8);
    message->type = frame[3];
    return 0;
}

uint16_t amb_decode(const uint8_t *frame, size_t length, amb_server_frame *message)
{
    memset(message, 0, sizeof *message);
    if (length > AMB_FRAME_BYTES_MAX) return AMB_ERROR_TOO_LONG;
    if (length < HEADER_BYTES) return AMB_ERROR_TOO_SHORT;
    if (get_u16(frame) != MAGIC) return AMB_ERROR_BAD_MAGIC;
    if (frame[2] != AMB_PROTOCOL_VERSION) return AMB_ERROR_UNSUPPORTED_VERSION;
    switch (frame[3]) {
    case AMB_TYPE_WELCOME:
    case AMB_TYPE_ACKNOWLEDGEMENT:
        return decode_position(frame, length, message);
    case AMB_TYPE_TIME_REQUEST:
        return decode_time_request(frame, length, message);
    case AMB_TYPE_ERROR:
        return decode_error(frame, length, message);
    default:
        /* The types that are left between the first and the last are those of a device. */
        return is_within(frame[3], AMB_TYPE_HELLO, AMB_TYPE_GOODBYE) ? AMB_ERROR_WRONG_DIRECTION : AMB_ERROR_UNKNOWN_TYPE;
    }
}
