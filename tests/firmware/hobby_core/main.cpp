#include "Arduino.h"

#include "bowl_board.ino"

int main() {
  setup();
  for (;;) loop();
}
