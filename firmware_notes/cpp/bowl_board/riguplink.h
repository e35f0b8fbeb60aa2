// One rig's way to an MQTT broker (3.1.1): bytes in, bytes out; whoever calls has the socket.
//
// Samples wait here while the network is away. One is let go of once the broker has acknowledged
// it (QoS 1). A broker that says nothing for SILENT_MS is taken for lost.
#pragma once

#include "rigboard.h"

namespace rigboard {

// Samples that have not arrived yet, oldest first; the newest is always among them. Once it is full,
// every second one is let go, and from then on only every second one is kept: a long absence is kept
// evenly, and more coarsely than a short one.
template <size_t Probes, size_t Most>
class Backlog {
 public:
  Backlog() : count_(0), until_(0), last_(0), some_(false) { begin(); }

  void add(uint64_t ms, const Channel* channels) {
    if (passing_ && count_ && samples_[count_ - 1].ms == passing_ms_) --count_;
    if (count_ == Most) {
      size_t n = 0;
      for (size_t i = 0; i < count_; i += 2) samples_[n++] = samples_[i];
      count_ = n;
      every_ *= 2;
    }
    passing_ = added_++ % every_ != 0;
    passing_ms_ = ms;
    samples_[count_].ms = ms;
    memcpy(samples_[count_].channels, channels, sizeof samples_[count_].channels);
    ++count_;
  }
  // A pack of what fits; `arrived` lets go of it.
  void pack(Text& text, const char* rig, const char* const* names, uint64_t now_ms,
            uint64_t unix_ms) {
    const size_t taken =
        rigboard::pack<Probes>(text, rig, names, samples_, count_, now_ms, unix_ms);
    some_ = taken > 0;
    until_ = some_ ? samples_[taken - 1].ms : 0;
    last_ = samples_[count_ - 1].ms;
  }
  void arrived() {
    size_t n = 0;
    for (size_t i = 0; i < count_; ++i) {
      const uint64_t ms = samples_[i].ms;
      if (!((some_ && ms <= until_) || ms == last_)) samples_[n++] = samples_[i];
    }
    count_ = n;
    if (!n) begin();
  }
  size_t count() const { return count_; }

 private:
  void begin() {
    every_ = 1;
    added_ = 0;
    passing_ = false;
    passing_ms_ = 0;
  }

  Sample<Probes> samples_[Most];
  size_t count_;
  uint64_t until_, last_, passing_ms_;
  uint32_t every_, added_;
  bool some_, passing_;
};

template <size_t Probes, size_t Most>
class Uplink {
 public:
  enum : uint32_t { ALIVE_S = 30, PING_MS = 10000, SILENT_MS = 20000 };

  Uplink(const char* rig, const char* const* names, const char* prefix = "rigs",
         const char* user = "", const char* password = "")
      : rig_(rig), names_(names), prefix_(prefix), user_(user), password_(password), refused_(0) {
    closed();
    cue_[0] = '\0';
  }

  // The connection is gone.
  void closed() {
    ready_ = fresh_ = false;
    length_ = 0;
    id_ = 1;
    flying_ = 0;
    sent_ms_ = heard_ms_ = 0;
  }
  // The connection stands: who we are, and what is to be said if we vanish.
  void opened(Text& out, uint64_t ms) {
    closed();
    refused_ = 0;
    sent_ms_ = heard_ms_ = ms;
    Text counted(nullptr, 0);
    introduce(counted);
    head(out, 0x10, counted.length());
    introduce(out);
  }
  // A sample is to be sent, now or later.
  void sampled(uint64_t ms, const Channel* channels) {
    for (size_t i = 0; i < Probes; ++i) {
      if (channels[i].state == State::nothing) continue;
      backlog.add(ms, channels);
      fresh_ = true;
      return;
    }
  }
  // Takes what the broker wrote; writes what is to be answered at once.
  void heard(Text& out, const char* bytes, size_t count, uint64_t ms) {
    heard_ms_ = ms;
    while (count--) {
      kept_[length_++] = *bytes++;
      take(out);
      if (length_ == LONGEST_PACKET) {
        refused_ = 255;
        length_ = 0;
      }
    }
  }
  // What is to be written now: with each new sample a pack, else now and then a sign of life.
  void due(Text& out, uint64_t ms, uint64_t unix_ms) {
    if (ready_ && fresh_ && !flying_ && backlog.count()) {
      fresh_ = false;
      sent_ms_ = ms;
      id_ = id_ % 0xFFFF + 1;
      if (id_ < 2) id_ = 2;
      flying_ = id_;
      Text counted(nullptr, 0);
      readings(counted, ms, unix_ms);
      head(out, 0x32, counted.length());
      readings(out, ms, unix_ms);
    } else if (ready_ && ms - sent_ms_ >= PING_MS) {
      sent_ms_ = ms;
      out.two_bytes(0xC000);
    }
  }
  // Whether the broker has said nothing for too long, or will not have us.
  bool silent(uint64_t ms) const { return refused_ || ms - heard_ms_ > SILENT_MS; }
  // The last cue, told once; else nullptr.
  const char* cue() {
    told_[0] = '\0';
    if (!cue_[0]) return nullptr;
    memcpy(told_, cue_, sizeof told_);
    cue_[0] = '\0';
    return told_;
  }

  Backlog<Probes, Most> backlog;

 private:
  static void head(Text& out, unsigned kind, size_t length) {
    out.one_byte(kind);
    do {
      out.one_byte(unsigned(length & 127) | (length > 127 ? 128 : 0));
      length >>= 7;
    } while (length);
  }
  void introduce(Text& out) const {
    out.counted("MQTT");
    out.one_byte(4);
    out.one_byte(0x2E | (*user_ ? 0x80 : 0) | (*password_ ? 0x40 : 0));
    out.two_bytes(ALIVE_S);
    out.counted("rig-", rig_);
    out.counted(prefix_, "/", rig_, "/status");
    out.counted("offline");
    if (*user_) out.counted(user_);
    if (*password_) out.counted(password_);
  }
  void readings(Text& out, uint64_t ms, uint64_t unix_ms) {
    out.counted(prefix_, "/", rig_, "/readings");
    out.two_bytes(flying_);
    backlog.pack(out, rig_, names_, ms, unix_ms);
  }
  void subscribe(Text& out) const {
    out.two_bytes(1);
    out.counted(prefix_, "/", rig_, "/cue");
    out.one_byte(0);
  }
  void online(Text& out) const {
    out.counted(prefix_, "/", rig_, "/status");
    out.two_bytes(1);
    out.add("online");
  }
  // Takes the packet that is complete, if one is.
  void take(Text& out) {
    size_t length = 0, i = 1;
    for (; i < length_ && i < 5; ++i) {
      length |= size_t(kept_[i] & 127) << 7 * (i - 1);
      if (!(kept_[i] & 128)) break;
    }
    if (i >= length_ || i == 5 || length_ < i + 1 + length) return;
    const unsigned kind = uint8_t(kept_[0]);
    const char* body = kept_ + i + 1;
    length_ = 0;
    if (kind == 0x20 && length > 1) {
      refused_ = uint8_t(body[1]);
      if (refused_) return;
      ready_ = fresh_ = true;
      Text counted(nullptr, 0);
      subscribe(counted);
      head(out, 0x82, counted.length());
      subscribe(out);
      counted.clear();
      online(counted);
      head(out, 0x33, counted.length());
      online(out);
    } else if (kind == 0x40 && length > 1) {
      if (flying_ && number(body) == flying_) {
        flying_ = 0;
        backlog.arrived();
      }
    } else if (kind >> 4 == 3 && length > 1) {
      size_t n = 0;
      for (size_t at = 2 + number(body); at < length && n < LONGEST_COMMAND; ++at) {
        if (body[at] >= 32 && body[at] < 127) cue_[n++] = body[at];
      }
      cue_[n] = '\0';
    }
  }
  static unsigned number(const char* two) {
    return unsigned(uint8_t(two[0])) << 8 | uint8_t(two[1]);
  }

  const char *rig_, *const *names_, *prefix_, *user_, *password_;
  bool ready_, fresh_;
  char kept_[LONGEST_PACKET], cue_[LONGEST_COMMAND + 1], told_[LONGEST_COMMAND + 1];
  size_t length_;
  unsigned id_, flying_, refused_;
  uint64_t sent_ms_, heard_ms_;
};

}  // namespace rigboard
