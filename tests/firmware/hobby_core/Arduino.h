// As much of a hobby core as the sketch uses, on a computer: the serial port is this process's
// input and output, the bus has two MAX31856 that measure BATH_E7 and MIX_E7 (2^-7 °C).
#pragma once

#include <poll.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

// Names that the cores' own header takes for itself, as macros and types.
#define bit(b) (1UL << (b))
#define word(...) makeWord(__VA_ARGS__)
#define lowByte(w) ((uint8_t)((w) & 0xff))
#define highByte(w) ((uint8_t)((w) >> 8))
#define constrain(x, low, high) ((x) < (low) ? (low) : ((x) > (high) ? (high) : (x)))
#define DEC 10
#define HEX 16
typedef uint8_t byte;
typedef bool boolean;

enum { LOW, HIGH, OUTPUT, MSBFIRST, SPI_MODE0, SPI_MODE1 };

inline uint32_t millis() {
  timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  // Close to its wrap at the start, so that every test goes through it.
  static const uint64_t begun = uint64_t(now.tv_sec) * 1000 + uint64_t(now.tv_nsec) / 1000000;
  const uint64_t ms = uint64_t(now.tv_sec) * 1000 + uint64_t(now.tv_nsec) / 1000000;
  return uint32_t(0xFFFFFFFF - 1500 + (ms - begun));
}

inline void delay(unsigned ms) { usleep(1000 * ms); }
inline void pinMode(int, int) {}

struct Bus {
  int selected = -1;
  bool reading = false;
  unsigned at = 0, told = 0;
  uint8_t registers[2][16] = {};

  void select(int pin, int level) {
    const int chip = pin - 5;
    if (chip != 0 && chip != 1) return;
    selected = level == LOW ? chip : -1;
    told = 0;
  }
  uint8_t transfer(uint8_t byte) {
    if (selected < 0) return 0xFF;
    uint8_t* kept = registers[selected];
    if (!told++) {
      reading = !(byte & 0x80);
      at = byte & 15;
      return 0;
    }
    if (!reading) {
      kept[at++ & 15] = byte;
      return 0;
    }
    convert(kept);
    return kept[at++ & 15];
  }
  void convert(uint8_t* kept) {
    const char* set = getenv(selected == 0 ? "BATH_E7" : "MIX_E7");
    const int32_t tip = int32_t(strtol(set ? set : "0", nullptr, 10)) * 32;
    kept[10] = 24;
    kept[11] = 0x80;
    kept[12] = uint8_t(tip >> 16);
    kept[13] = uint8_t(tip >> 8);
    kept[14] = uint8_t(tip);
  }
};

inline Bus& bus() {
  static Bus the_bus;
  return the_bus;
}

inline void digitalWrite(int pin, int level) {
  static int before = -1;
  bus().select(pin, level);
  if (pin == 14 && level == HIGH && before != HIGH) (void)!write(2, "beep\n", 5);
  if (pin == 14) before = level;
}

struct SerialPort {
  void begin(long) {}
  size_t write(const uint8_t* bytes, size_t count) {
    const ssize_t wrote = ::write(1, bytes, count);
    if (wrote < 0) exit(0);
    return size_t(wrote);
  }
  size_t write(uint8_t byte) { return write(&byte, 1); }
  int available() {
    pollfd one = {0, POLLIN, 0};
    return poll(&one, 1, 0) > 0 && one.revents & POLLIN;
  }
  int read() {
    char byte = 0;
    if (::read(0, &byte, 1) <= 0) exit(0);
    return byte;
  }
};
static SerialPort Serial;
