#pragma once

#include <arpa/inet.h>
#include <netinet/in.h>
#include <sys/socket.h>

#include "Arduino.h"

enum { WL_DISCONNECTED, WL_CONNECTED };

struct WifiRadio {
  int state = WL_DISCONNECTED;
  int status() const { return state; }
  void begin(const char*, const char*) { state = WL_CONNECTED; }
};
static WifiRadio WiFi;

inline void configTime(long, int, const char*) {}

class WiFiClient {
 public:
  int connect(const char* address, uint16_t port) {
    sockaddr_in to = {};
    to.sin_family = AF_INET;
    to.sin_port = htons(port);
    inet_pton(AF_INET, address, &to.sin_addr);
    socket_ = socket(AF_INET, SOCK_STREAM, 0);
    if (::connect(socket_, reinterpret_cast<sockaddr*>(&to), sizeof to) == 0) return 1;
    stop();
    return 0;
  }
  int available() {
    pollfd one = {socket_, POLLIN, 0};
    return socket_ >= 0 && poll(&one, 1, 0) > 0;
  }
  int read(uint8_t* bytes, size_t count) {
    const ssize_t got = recv(socket_, bytes, count, 0);
    if (got <= 0) stop();
    return int(got);
  }
  size_t write(const uint8_t* bytes, size_t count) {
    const ssize_t sent = ::send(socket_, bytes, count, MSG_NOSIGNAL);
    return sent < 0 ? 0 : size_t(sent);
  }
  bool connected() const { return socket_ >= 0; }
  void stop() {
    if (socket_ >= 0) close(socket_);
    socket_ = -1;
  }

 private:
  int socket_ = -1;
};
