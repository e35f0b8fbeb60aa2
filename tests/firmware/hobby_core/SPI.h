#pragma once

#include "Arduino.h"

struct SPISettings {
  SPISettings(long, int, int) {}
};

struct SpiPort {
  void begin() {}
  void beginTransaction(const SPISettings&) {}
  void endTransaction() {}
  uint8_t transfer(int byte) { return bus().transfer(uint8_t(byte)); }
};
static SpiPort SPI;
