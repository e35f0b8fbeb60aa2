// The board itself: chips on a bus, serial port, network, watchdog, buzzer and lamp.
//
// What they say is made in rigboard.h and riguplink.h, what hangs where stands in settings.h.
#include <SPI.h>

#include "rigboard.h"
#include "settings.h"
#if RIGBOARD_WIFI
#include <time.h>
#if defined(ESP8266)
#include <ESP8266WiFi.h>
#else
#include <WiFi.h>
#endif
#include "riguplink.h"
#endif
#if defined(ESP32)
#include <esp_task_wdt.h>
#elif defined(__AVR__)
#include <avr/wdt.h>
#endif

using namespace rigboard;

enum : unsigned {
  COUNT = sizeof PROBES / sizeof PROBES[0],
  LINE = 96 + 96 * COUNT,
  WATCHDOG_S = 8
};

static const char* names[COUNT];
static Channel channels[COUNT];
static uint32_t words[COUNT];
static char line_bytes[LINE];
static Clock board_clock(0);
static Ears ears;
static Cue cue;
static uint64_t due_ms;

static void watchdog_begin() {
#if defined(ESP32) && ESP_IDF_VERSION_MAJOR >= 5
  esp_task_wdt_config_t config = {};
  config.timeout_ms = 1000 * WATCHDOG_S;
  config.trigger_panic = true;
  if (esp_task_wdt_reconfigure(&config) != ESP_OK) esp_task_wdt_init(&config);
  esp_task_wdt_add(nullptr);
#elif defined(ESP32)
  esp_task_wdt_init(WATCHDOG_S, true);
  esp_task_wdt_add(nullptr);
#elif defined(ESP8266)
  ESP.wdtEnable(1000 * WATCHDOG_S);
#elif defined(__AVR__)
  wdt_enable(WDTO_8S);
#elif defined(ARDUINO_ARCH_RP2040)
  rp2040.wdt_begin(1000 * WATCHDOG_S);
#endif
}

static void watchdog_feed() {
#if defined(ESP32)
  esp_task_wdt_reset();
#elif defined(ESP8266)
  ESP.wdtFeed();
#elif defined(__AVR__)
  wdt_reset();
#elif defined(ARDUINO_ARCH_RP2040)
  rp2040.wdt_reset();
#endif
}

static void say(const Text& line) {
  Serial.write(reinterpret_cast<const uint8_t*>(line.bytes()), line.length());
  Serial.write(uint8_t('\n'));
}

static void say_hello() {
  Text line(line_bytes, sizeof line_bytes);
  hello(line, RIG);
  say(line);
}

// Writes to a chip, then reads from it.
static void talk(const ProbeSettings& probe, const uint8_t* write, size_t count, uint8_t* read,
                 size_t wanted) {
  SPI.beginTransaction(
      SPISettings(500000, MSBFIRST, probe.chip == 31855 ? SPI_MODE0 : SPI_MODE1));
  digitalWrite(probe.select_pin, LOW);
  while (count--) SPI.transfer(*write++);
  while (wanted--) *read++ = SPI.transfer(0);
  digitalWrite(probe.select_pin, HIGH);
  SPI.endTransaction();
}

// The channel just now; a chip that has lost its settings gets them again.
static Channel measure(const ProbeSettings& probe, uint32_t& word) {
  uint8_t bytes[16];
  if (probe.chip == 31855) {
    talk(probe, nullptr, 0, bytes, 4);
    word = uint32_t(bytes[0]) << 24 | uint32_t(bytes[1]) << 16 | uint32_t(bytes[2]) << 8 | bytes[3];
    return of_31855(word);
  }
  const Setup31856 setup(probe.type, MAINS_HZ);
  const uint8_t first = 0;
  talk(probe, &first, 1, bytes, sizeof bytes);
  const Channel found = of_31856(bytes, setup);
  if (found.state == State::nothing) {
    for (const auto& pair : setup.writes) talk(probe, pair, 2, nullptr, 0);
  }
  return found;
}

static void sample(uint64_t ms) {
  for (unsigned i = 0; i < COUNT; ++i) channels[i] = measure(PROBES[i], words[i]);
  Text line(line_bytes, sizeof line_bytes);
  if (FORM == FRAMES) {
    frames_line(line, ms, words, COUNT);
  } else if (FORM == COLUMNS) {
    columns_line(line, ms, channels, COUNT);
  } else {
    Pack pack(line, RIG, 0);
    pack.sample(names, channels, COUNT, 0);
    pack.end();
  }
  if (!line.length()) return;
  add_checksum(line);
  if (line.whole()) say(line);
}

static void obey(const char* command, uint64_t ms) {
  if (strcmp(command, "ping") == 0) say_hello();
  if (strncmp(command, "cue ", 4) == 0) cue.take(command + 4, ms);
}

#if RIGBOARD_WIFI
enum : uint32_t { WIFI_RETRY_MS = 30000, RETRY_MS = 5000 };

static Uplink<COUNT, KEPT> uplink(RIG, names, PREFIX, BROKER_USER, BROKER_PASSWORD);
static WiFiClient client;
static bool is_open;
static uint64_t try_wifi_ms, try_broker_ms;
static char packet[LINE_BYTES + 128];

static void to_broker(const Text& out) {
  if (!out.length()) return;
  const uint8_t* bytes = reinterpret_cast<const uint8_t*>(out.bytes());
  if (!out.whole() || client.write(bytes, out.length()) != out.length()) client.stop();
}

static void hang_up() {
  client.stop();
  uplink.closed();
  is_open = false;
}

static void listen_to_broker(uint64_t ms) {
  Text out(packet, sizeof packet);
  char bytes[64];
  while (client.available() > 0) {
    const int got = client.read(reinterpret_cast<uint8_t*>(bytes), sizeof bytes);
    if (got <= 0) break;
    uplink.heard(out, bytes, size_t(got), ms);
    const char* told = uplink.cue();
    if (told) cue.take(told, ms);
  }
  to_broker(out);
}

// Wi-Fi and the broker, tried again for ever, a step at a time.
static void network(uint64_t ms) {
  if (WiFi.status() != WL_CONNECTED) {
    if (is_open) hang_up();
    if (ms >= try_wifi_ms) {
      try_wifi_ms = ms + WIFI_RETRY_MS;
      WiFi.begin(WIFI_NAME, WIFI_PASSWORD);
      if (*TIME_SERVER) configTime(0, 0, TIME_SERVER);
    }
    return;
  }
  const time_t now = time(nullptr);
  if (*TIME_SERVER && now > 1700000000) board_clock.set_unix(uint64_t(now), ms);
  if (is_open) {
    listen_to_broker(ms);
    Text out(packet, sizeof packet);
    uplink.due(out, ms, board_clock.unix_ms(ms));
    to_broker(out);
    if (!client.connected() || uplink.silent(ms)) hang_up();
  } else if (ms >= try_broker_ms) {
    try_broker_ms = ms + RETRY_MS;
    if (!client.connect(BROKER, BROKER_PORT)) return;
    is_open = true;
    Text out(packet, sizeof packet);
    uplink.opened(out, ms);
    to_broker(out);
  }
}
#endif

void setup() {
  for (unsigned i = 0; i < COUNT; ++i) {
    names[i] = PROBES[i].name;
    pinMode(PROBES[i].select_pin, OUTPUT);
    digitalWrite(PROBES[i].select_pin, HIGH);
  }
  if (BUZZER >= 0) pinMode(BUZZER, OUTPUT);
  if (LAMP >= 0) pinMode(LAMP, OUTPUT);
  Serial.begin(115200);
  SPI.begin();
  board_clock = Clock(millis());
  watchdog_begin();
  say_hello();
}

void loop() {
  watchdog_feed();
  const uint64_t ms = board_clock.ms(millis());
  if (ms >= due_ms) {
    due_ms = due_ms + EVERY_MS > ms ? due_ms + EVERY_MS : ms;
    sample(ms);
#if RIGBOARD_WIFI
    uplink.sampled(ms, channels);
#endif
  }
  while (Serial.available() > 0) {
    const char* command = ears.hear(char(Serial.read()));
    if (command) obey(command, ms);
  }
#if RIGBOARD_WIFI
  network(ms);
#endif
  if (BUZZER >= 0) digitalWrite(BUZZER, cue.buzzer(ms) ? HIGH : LOW);
  if (LAMP >= 0) digitalWrite(LAMP, cue.lamp(ms) ? HIGH : LOW);
  delay(10);
}
