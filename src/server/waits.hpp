#pragma once
// How long the server waits for a client: every wait has an end.

#include <chrono>

namespace layproof::server {

struct Waits {
    std::chrono::milliseconds head{10'000};   ///< for the whole head of a request
    std::chrono::milliseconds body{30'000};   ///< for the whole body
    std::chrono::milliseconds write{20'000};  ///< until a response is taken
    std::chrono::milliseconds idle{60'000};   ///< for the next request of a connection
    std::chrono::milliseconds linger{2'000};  ///< a refused client may go on sending, so that it
                                              ///< reads why before it is cut off
    std::chrono::milliseconds heartbeat{10'000};  ///< between two signs of life of a stream
};

}  // namespace layproof::server
