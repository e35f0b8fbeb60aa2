// Answers the commands of vectors/ with the C++ header, as answers.py does with MicroPython's.
#include <stdio.h>

#include <iostream>
#include <memory>
#include <sstream>
#include <string>
#include <vector>

#include "riguplink.h"

using namespace rigboard;
typedef std::vector<std::string> Words;

static char buffer[4096];

static std::string text_of(const Text& text) {
  return text.whole() ? std::string(text.bytes(), text.length()) : "too long";
}

static Channel channel_of(const std::string& word) {
  if (word == "-") return channel(State::nothing);
  if (word == "open") return channel(State::open);
  if (word == "short-gnd") return channel(State::short_gnd);
  if (word == "short-vcc") return channel(State::short_vcc);
  const size_t slash = word.find('/');
  const bool has_chip = slash != std::string::npos;
  return channel(State::good, int32_t(std::stol(word)),
                 has_chip ? int32_t(std::stol(word.substr(slash + 1))) : 0, has_chip);
}

static std::string shown(const Channel& found) {
  if (found.state == State::nothing) return "nothing";
  Text text(buffer, sizeof buffer);
  if (found.state == State::good) {
    text.decimal(found.e4, 4);
  } else {
    text.add(fault_name(found.state));
  }
  text.add(' ');
  text.decimal(found.chip_e4, 4);
  return text_of(text);
}

static std::string unhex(const std::string& text) {
  std::string bytes;
  for (size_t i = 0; i + 1 < text.size(); i += 2) {
    bytes += char(std::stoul(text.substr(i, 2), nullptr, 16));
  }
  return bytes;
}

static std::string escaped(const Text& text) {
  std::string found;
  for (const char one : text_of(text)) {
    char hex[8];
    snprintf(hex, sizeof hex, "\\x%02x", unsigned(uint8_t(one)));
    found += one > 32 && one < 127 && one != '\\' ? std::string(1, one) : hex;
  }
  return found.empty() ? "-" : found;
}

static std::vector<Sample<2>> samples_of(const Words& words, size_t from) {
  std::vector<Sample<2>> found;
  size_t probe = 0;
  for (size_t i = from; i < words.size(); ++i) {
    if (words[i][0] == '@') {
      Sample<2> sample = {std::stoull(words[i].substr(1)), {}};
      found.push_back(sample);
      probe = 0;
    } else if (probe < 2) {
      found.back().channels[probe++] = channel_of(words[i]);
    }
  }
  return found;
}

static uint64_t moment(const std::string& word) { return word == "-" ? 0 : std::stoull(word); }

// Text that stays where it is, for headers that keep pointers.
struct Session {
  std::string rig, user, password;
  std::vector<std::string> probes;
  const char* names[2];
  std::unique_ptr<Uplink<2, 4>> uplink;

  void name(const std::string& list) {
    probes.clear();
    std::istringstream parts(list);
    for (std::string part; std::getline(parts, part, ',');) probes.push_back(part);
    for (size_t i = 0; i < 2; ++i) names[i] = i < probes.size() ? probes[i].c_str() : "";
  }

  std::string answer(const std::string& line) {
    std::istringstream parts(line);
    std::string command;
    parts >> command;
    const std::string rest = line.substr(std::min(line.size(), command.size() + 1));
    Words words;
    for (std::string word; parts >> word;) words.push_back(word);
    Text text(buffer, sizeof buffer);
    if (command == "word") return shown(of_31855(uint32_t(std::stoul(rest, nullptr, 16))));
    if (command == "setup" || command == "registers") {
      const Setup31856 setup(words[0][0], unsigned(std::stoul(words[1])));
      if (command == "registers") {
        const std::string bytes = unhex(words[2]);
        return shown(of_31856(reinterpret_cast<const uint8_t*>(bytes.data()), setup));
      }
      for (const auto& pair : setup.writes) {
        if (text.length()) text.add(' ');
        text.hex(unsigned(pair[0] << 8 | pair[1]), 4);
      }
      return text_of(text);
    }
    if (command == "checksum") {
      text.hex(checksum(rest.data(), rest.size()), 2);
      return text_of(text);
    }
    if (command == "columns") {
      std::vector<Channel> channels;
      for (size_t i = 1; i < words.size(); ++i) channels.push_back(channel_of(words[i]));
      columns_line(text, std::stoull(words[0]), channels.data(), channels.size());
      add_checksum(text);
      return text_of(text);
    }
    if (command == "frames") {
      std::vector<uint32_t> bits;
      for (size_t i = 1; i < words.size(); ++i) {
        bits.push_back(uint32_t(std::stoul(words[i], nullptr, 16)));
      }
      frames_line(text, std::stoull(words[0]), bits.data(), bits.size());
      add_checksum(text);
      return text_of(text);
    }
    if (command == "senml") {
      name(words[1]);
      const std::vector<Sample<2>> samples = samples_of(words, 5);
      const size_t taken =
          pack<2>(text, words[0].c_str(), names, samples.data(), samples.size(),
                  std::stoull(words[2]), moment(words[3]), std::stoull(words[4]));
      return std::to_string(taken) + " " + (text.length() ? text_of(text) : "-");
    }
    if (command == "clock") {
      Clock clock(uint32_t(std::stoul(words[1])), unsigned(std::stoul(words[0])));
      for (size_t i = 1; i < words.size(); ++i) {
        if (i > 1) text.add(' ');
        text.number(clock.ms(uint32_t(std::stoul(words[i]))));
      }
      return text_of(text);
    }
    if (command == "hear") {
      Ears ears;
      std::vector<std::string> heard;
      for (const std::string& word : words) {
        for (const char byte : unhex(word)) {
          const char* found = ears.hear(byte);
          if (found) heard.push_back(found);
        }
      }
      std::string all = heard.empty() ? "-" : heard[0];
      for (size_t i = 1; i < heard.size(); ++i) all += "|" + heard[i];
      return all;
    }
    if (command == "cue") {
      Cue cue;
      cue.take((words[0] + " some-alarm").c_str(), 0);
      for (size_t i = 1; i < words.size(); ++i) {
        if (i > 1) text.add(' ');
        text.number(cue.buzzer(std::stoull(words[i])));
        text.number(cue.lamp(std::stoull(words[i])));
      }
      return text_of(text);
    }
    if (command == "uplink") {
      rig = words[0];
      name(words[1]);
      user = words.size() > 3 ? words[3] : "";
      password = words.size() > 4 ? words[4] : "";
      uplink.reset(new Uplink<2, 4>(rig.c_str(), names, "rigs", user.c_str(), password.c_str()));
      return "-";
    }
    const uint64_t ms = words.empty() || command == "sampled" ? 0 : std::stoull(words[0]);
    if (command == "opened") {
      uplink->opened(text, ms);
      return escaped(text);
    }
    if (command == "closed") {
      uplink->closed();
      return "-";
    }
    if (command == "sampled") {
      for (const Sample<2>& one : samples_of(words, 0)) uplink->sampled(one.ms, one.channels);
      return std::to_string(uplink->backlog.count());
    }
    if (command == "heard") {
      const std::string bytes = unhex(words[1]);
      uplink->heard(text, bytes.data(), bytes.size(), ms);
      const char* cue = uplink->cue();
      return escaped(text) + " " + (cue ? cue : "-") + " " +
             std::to_string(uplink->backlog.count());
    }
    if (command == "due") {
      uplink->due(text, ms, moment(words[1]));
      return escaped(text);
    }
    if (command == "silent") return uplink->silent(ms) ? "yes" : "no";
    return "no such command: " + command;
  }
};

int main() {
  Session session;
  for (std::string line; std::getline(std::cin, line);) {
    if (!line.empty()) std::cout << session.answer(line) << "\n";
  }
}
