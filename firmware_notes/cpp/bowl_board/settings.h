// Which rig this board sits at, what hangs on which pin, and the way to the computer.
#pragma once

#define RIG "kitchen"

struct ProbeSettings {
  const char* name;
  unsigned chip;  // 31856 or 31855
  char type;      // T, K, ...
  int select_pin;
};

static const ProbeSettings PROBES[] = {
    {"bath", 31856, 'T', 5},
    {"mix", 31856, 'T', 6},
};

// Pins; a negative one is none.
static const int BUZZER = 14, LAMP = 15;

static const unsigned MAINS_HZ = 50;
static const unsigned long EVERY_MS = 1000;  // a second in the rounds; a minute in the freezer

enum Form { SENML, COLUMNS, FRAMES };  // FRAMES with 31855 alone
static const Form FORM = SENML;

// 1 on a core with Wi-Fi; with 0 there is the serial port only.
#ifndef RIGBOARD_WIFI
#define RIGBOARD_WIFI 0
#endif

#define WIFI_NAME ""
#define WIFI_PASSWORD ""
#ifndef BROKER
#define BROKER "192.168.1.10"  // an address: looking a name up may take too long
#define BROKER_PORT 1883
#endif
#define BROKER_USER ""
#define BROKER_PASSWORD ""
#define PREFIX "rigs"
#define TIME_SERVER ""  // empty: times are told as seconds before now

enum { KEPT = 400 };  // samples kept while the network is away, some 32 bytes each
