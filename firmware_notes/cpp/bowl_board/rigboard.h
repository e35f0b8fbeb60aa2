// What a board at the bowl says and hears; nothing in here knows a pin, a port or a network.
//
// C++11, for hobby cores and for a computer. Temperatures are whole ten-thousandths of a degree
// Celsius (e4), so that no core needs floating point; times are milliseconds since the board's
// start. A channel is what one probe gave: a temperature with that of its chip, or a fault.
#pragma once

#include <stddef.h>
#include <stdint.h>
#include <string.h>

namespace rigboard {

static const char* const VERSION = "reference 1.0";

enum : size_t { LINE_BYTES = 1024, LONGEST_COMMAND = 80, LONGEST_PACKET = 256 };

enum class State : uint8_t { nothing, good, open, short_gnd, short_vcc };

inline const char* fault_name(State state) {
  return state == State::open ? "open" : state == State::short_gnd ? "short-gnd" : "short-vcc";
}

struct Channel {
  int32_t e4;
  int32_t chip_e4;
  State state;
  bool has_chip;
};

inline Channel channel(State state, int32_t e4 = 0, int32_t chip_e4 = 0, bool has_chip = true) {
  Channel made = {e4, chip_e4, state, has_chip};
  return made;
}

inline int32_t two_complement(uint32_t bits, unsigned width) {
  return bits >> (width - 1) ? int32_t(bits) - (int32_t(1) << width) : int32_t(bits);
}

// Divides by a power of two, rounding down also below zero.
inline int32_t halved(int32_t number, unsigned times) {
  const int32_t by = int32_t(1) << times;
  return number >= 0 ? number / by : -((-number + by - 1) / by);
}

// A channel from the 32 bits of a MAX31855; nothing where no chip sends such a word.
// Source: MAX31855 data sheet (Maxim 19-5793), tables 2 to 5.
inline Channel of_31855(uint32_t word) {
  const bool faulty = (word >> 16 & 1) != 0;
  if (word == 0 || word == 0xFFFFFFFF || (word & (1UL << 17 | 1UL << 3)) != 0 ||
      faulty != ((word & 7) != 0)) {
    return channel(State::nothing);
  }
  const int32_t chip_e4 = two_complement(word >> 4 & 0xFFF, 12) * 625;
  if (faulty) {
    return channel(word & 1   ? State::open
                   : word & 2 ? State::short_gnd
                              : State::short_vcc,
                   0, chip_e4);
  }
  return channel(State::good, two_complement(word >> 18, 14) * 2500, chip_e4);
}

// What the first two registers of a MAX31856 are to hold: automatic conversion, a look for broken
// wires, the notch filter at the mains' frequency, which a motor's noise repeats; each value the
// mean of four. `writes` are the register and value pairs that bring it there; the filter may only
// change while the chip does not convert.
// Source: MAX31856 data sheet (Maxim 19-7534), registers 00h and 01h.
struct Setup31856 {
  uint8_t cr0, cr1;
  uint8_t writes[3][2];

  Setup31856(char kind, unsigned mains_hz) {
    static const char KINDS[] = "BEJKNRST";
    const char* found = strchr(KINDS, kind);
    cr0 = mains_hz == 50 ? 0x91 : 0x90;
    cr1 = uint8_t(0x20 | (found && kind ? found - KINDS : 3));
    const uint8_t pairs[3][2] = {{0x80, uint8_t(cr0 & 1)}, {0x81, cr1}, {0x80, cr0}};
    memcpy(writes, pairs, sizeof writes);
  }
};

// A channel from the 16 registers of a MAX31856, read from 00h on. Nothing where they do not hold
// our settings: no chip is there, or it has been without power and must be set up again. An input
// beyond the supply or below ground is one fault to the chip; here a short to the supply.
// Source: MAX31856 data sheet (Maxim 19-7534), registers 0Ah to 0Fh.
inline Channel of_31856(const uint8_t* registers, const Setup31856& setup) {
  const uint8_t status = registers[15];
  if ((registers[0] & 0xBD) != setup.cr0 || (registers[1] & 0x7F) != setup.cr1 || status & 0xC0) {
    return channel(State::nothing);
  }
  const uint32_t chip = uint32_t(registers[10]) << 8 | registers[11];
  const int32_t chip_e4 = halved(halved(two_complement(chip, 16), 2) * 625 + 2, 2);
  if (status & 3) {
    return channel(status & 1 ? State::open : State::short_vcc, 0, chip_e4);
  }
  const uint32_t tip =
      uint32_t(registers[12]) << 16 | uint32_t(registers[13]) << 8 | registers[14];
  const int32_t e4 = halved(halved(two_complement(tip, 24), 5) * 625 + 4, 3);
  return channel(State::good, e4, chip_e4);
}

// Writes bytes into a buffer of the caller's, or only counts them where there is none.
class Text {
 public:
  Text(char* at, size_t size) : at_(at), size_(size), length_(0) {}

  void add(char one) {
    if (at_ && length_ < size_) at_[length_] = one;
    ++length_;
  }
  void add(const char* text) {
    while (*text) add(*text++);
  }
  void number(uint64_t number) { digits(number, 1); }
  void digits(uint64_t number, unsigned least) {
    char reversed[20];
    unsigned n = 0;
    for (; number || n < least; number /= 10) reversed[n++] = char('0' + number % 10);
    while (n) add(reversed[--n]);
  }
  // A whole number of 10^-places, without idle zeros.
  void decimal(int64_t number, unsigned places) {
    uint64_t size = number < 0 ? uint64_t(-number) : uint64_t(number);
    if (number < 0) add('-');
    uint64_t one = 1;
    for (unsigned i = 0; i < places; ++i) one *= 10;
    this->number(size / one);
    uint64_t part = size % one;
    for (; part && part % 10 == 0; part /= 10) --places;
    if (part) {
      add('.');
      digits(part, places);
    }
  }
  void hex(uint32_t bits, unsigned width) {
    while (width--) add("0123456789ABCDEF"[bits >> 4 * width & 15]);
  }
  void one_byte(unsigned one) { add(char(one & 255)); }
  void two_bytes(unsigned two) {
    one_byte(two >> 8);
    one_byte(two);
  }
  // MQTT's text: its length in two bytes, then itself.
  void counted(const char* a, const char* b = "", const char* c = "", const char* d = "") {
    two_bytes(unsigned(strlen(a) + strlen(b) + strlen(c) + strlen(d)));
    add(a);
    add(b);
    add(c);
    add(d);
  }

  size_t length() const { return length_; }
  bool whole() const { return length_ <= size_; }
  const char* bytes() const { return at_; }
  void clear() { length_ = 0; }

 private:
  char* at_;
  size_t size_, length_;
};

// The XOR of all bytes, as in NMEA 0183.
inline uint8_t checksum(const char* bytes, size_t length) {
  uint8_t total = 0;
  while (length--) total = uint8_t(total ^ uint8_t(*bytes++));
  return total;
}

// Puts the checksum behind a line.
inline void add_checksum(Text& line) {
  const uint8_t sum = checksum(line.bytes(), line.length());
  line.add('*');
  line.hex(sum, 2);
}

// The answer to `ping`, also said at the start.
inline void hello(Text& line, const char* rig) {
  line.add("rigmon-board ");
  line.add(rig);
  line.add(' ');
  line.add(VERSION);
}

// Numbers: the clock, then for each probe its temperature and its chip's.
inline void columns_line(Text& line, uint64_t ms, const Channel* channels, size_t count) {
  line.number(uint32_t(ms));
  for (size_t i = 0; i < count; ++i) {
    line.add(',');
    if (channels[i].state == State::good) line.decimal(channels[i].e4, 4);
    line.add(',');
    if (channels[i].state != State::nothing && channels[i].has_chip) {
      line.decimal(channels[i].chip_e4, 4);
    }
  }
}

// The clock, then the raw word of each MAX31855.
inline void frames_line(Text& line, uint64_t ms, const uint32_t* words, size_t count) {
  line.number(uint32_t(ms));
  for (size_t i = 0; i < count; ++i) {
    line.add(',');
    line.hex(words[i], 8);
  }
}

// Writes SenML records (RFC 8428) one after the other. `unix_ms` is 0 while the board does not
// know the time of day; times are then seconds from now alone.
class Pack {
 public:
  Pack(Text& text, const char* rig, uint64_t unix_ms)
      : text_(text), rig_(rig), unix_ms_(unix_ms), begun_(false) {}

  void sample(const char* const* names, const Channel* channels, size_t count, uint64_t age_ms) {
    for (size_t i = 0; i < count; ++i) {
      const Channel& one = channels[i];
      if (one.state == State::nothing) continue;
      name(names[i], "");
      if (one.state == State::good) {
        text_.add("\",\"v\":");
        text_.decimal(one.e4, 4);
      } else {
        text_.add("\",\"vs\":\"");
        text_.add(fault_name(one.state));
        text_.add('"');
      }
      end(age_ms);
      if (one.state != State::good || !one.has_chip) continue;
      name(names[i], "/cj");
      text_.add("\",\"v\":");
      text_.decimal(one.chip_e4, 4);
      end(age_ms);
    }
  }
  void end() {
    if (begun_) text_.add(']');
  }
  // What a pack has before its first name.
  static void base(Text& text, const char* rig, uint64_t unix_ms) {
    text.add("\"bn\":\"");
    text.add(rig);
    text.add("/\",\"bu\":\"Cel\",");
    if (unix_ms) {
      text.add("\"bt\":");
      text.decimal(int64_t(unix_ms), 3);
      text.add(',');
    }
  }
  static size_t length(const char* const* names, const Channel* channels, size_t count,
                       uint64_t age_ms) {
    Text counted(nullptr, 0);
    Pack pack(counted, "", 0);
    pack.begun_ = true;
    pack.sample(names, channels, count, age_ms);
    return counted.length();
  }

 private:
  void name(const char* name, const char* ending) {
    text_.add(begun_ ? ",{" : "[{");
    if (!begun_) base(text_, rig_, unix_ms_);
    begun_ = true;
    text_.add("\"n\":\"");
    text_.add(name);
    text_.add(ending);
  }
  void end(uint64_t age_ms) {
    if (age_ms) {
      text_.add(",\"t\":");
      text_.decimal(-int64_t(age_ms), 3);
    }
    text_.add('}');
  }

  Text& text_;
  const char* rig_;
  uint64_t unix_ms_;
  bool begun_;
};

template <size_t Probes>
struct Sample {
  uint64_t ms;
  Channel channels[Probes];
};

// A pack of samples; returns how many of the old ones it holds. The newest sample always ends it,
// so that a host whose clock is wrong can date the others by it; before it come as many as fit,
// the oldest first.
template <size_t Probes>
size_t pack(Text& text, const char* rig, const char* const* names, const Sample<Probes>* samples,
            size_t count, uint64_t now_ms, uint64_t unix_ms, size_t limit = LINE_BYTES) {
  Text counted(nullptr, 0);
  Pack::base(counted, rig, unix_ms);
  const Sample<Probes>& last = samples[count - 1];
  size_t used = counted.length() + 2 +
                Pack::length(names, last.channels, Probes, now_ms - last.ms);
  Pack out(text, rig, unix_ms);
  size_t taken = 0;
  for (; taken + 1 < count; ++taken) {
    const Sample<Probes>& one = samples[taken];
    used += Pack::length(names, one.channels, Probes, now_ms - one.ms);
    if (used > limit) break;
    out.sample(names, one.channels, Probes, now_ms - one.ms);
  }
  out.sample(names, last.channels, Probes, now_ms - last.ms);
  out.end();
  return taken;
}

// Ticks of so many bits that wrap, made into milliseconds that do not, and those into Unix time.
class Clock {
 public:
  explicit Clock(uint32_t ticks, unsigned bits = 32)
      : ticks_(ticks), mask_(0xFFFFFFFF >> (32 - bits)), ms_(0), epoch_ms_(0) {}

  // To be asked at least once in the time in which the ticks wrap.
  uint64_t ms(uint32_t ticks) {
    ms_ += (ticks - ticks_) & mask_;
    ticks_ = ticks;
    return ms_;
  }
  void set_unix(uint64_t unix_s, uint64_t ms) { epoch_ms_ = 1000 * unix_s - ms; }
  uint64_t unix_ms(uint64_t ms) const { return epoch_ms_ ? epoch_ms_ + ms : 0; }

 private:
  uint32_t ticks_, mask_;
  uint64_t ms_, epoch_ms_;
};

// Parts what the host writes into commands, byte by byte; what is too long is none.
class Ears {
 public:
  Ears() : length_(0) {}

  // The command that this byte completes, until the next byte; else nullptr.
  const char* hear(char byte) {
    if (byte != '\n') {
      if (length_ <= LONGEST_COMMAND) kept_[length_++] = byte;
      return nullptr;
    }
    const size_t length = length_;
    length_ = 0;
    if (length > LONGEST_COMMAND) return nullptr;
    size_t n = 0;
    for (size_t i = 0; i < length; ++i) {
      if (kept_[i] >= 32 && kept_[i] < 127) kept_[n++] = kept_[i];
    }
    kept_[n] = '\0';
    return kept_;
  }

 private:
  char kept_[LONGEST_COMMAND + 1];
  size_t length_;
};

// What the buzzer and the lamp do: the level of the most urgent unanswered alarm.
class Cue {
 public:
  Cue() : level_(0), since_ms_(0) {}

  // Takes `<level> <alarm-code>`; a level that nobody knows changes nothing.
  void take(const char* words, uint64_t ms) {
    static const char* const LEVELS[] = {"off", "high", "medium", "low"};
    for (unsigned i = 0; i < 4; ++i) {
      const size_t n = strlen(LEVELS[i]);
      if (strncmp(words, LEVELS[i], n) == 0 && (words[n] == ' ' || words[n] == '\0')) {
        level_ = i;
        since_ms_ = ms;
      }
    }
  }
  bool buzzer(uint64_t ms) const {
    const Pattern& pattern = patterns()[level_];
    const uint64_t since = ms - since_ms_;
    const uint64_t phase = pattern.again ? since % pattern.again : since;
    const uint32_t beep = uint32_t(pattern.on) + pattern.off;
    return phase < pattern.beeps * beep && phase % beep < pattern.on;
  }
  bool lamp(uint64_t ms) const {
    const uint16_t blink = patterns()[level_].blink;
    return level_ && (!blink || (ms - since_ms_) % blink < blink / 2);
  }

 private:
  // Buzzer on and off for so many ms, so many times, again after so many (0: not again), as the
  // program's own bell; the lamp blinks in the last number of ms (0: it burns).
  struct Pattern {
    uint16_t on, off, beeps, again, blink;
  };
  static const Pattern* patterns() {
    static const Pattern PATTERNS[] = {
        {0, 0, 0, 0, 0}, {250, 150, 3, 10000, 500}, {400, 300, 2, 20000, 2000}, {700, 0, 1, 0, 0}};
    return PATTERNS;
  }

  unsigned level_;
  uint64_t since_ms_;
};

}  // namespace rigboard
