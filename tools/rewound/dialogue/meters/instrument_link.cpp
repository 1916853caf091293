// SPDX-License-Identifier: MIT
#include "dialogue/meters/instrument_link.hpp"

#include <charconv>
#include <chrono>
#include <future>
#include <memory>
#include <optional>
#include <thread>

#include <boost/asio.hpp>
#include <poll.h>
#include <unistd.h>

namespace rewound::tool::dialogue {

namespace asio = boost::asio;

namespace {

constexpr double usual_timeout_s = 3.0;
constexpr unsigned usual_baud = 9600;
constexpr std::size_t longest_answer = 4096;

using outcome = boost::system::error_code;

/// Waits for one asynchronous act until the time is up; what is still waiting is then given up by closing.
template <class Stream>
outcome wait_for(asio::io_context& context, Stream& stream, std::optional<outcome>& done,
                 std::chrono::steady_clock::time_point until) {
  context.restart();
  while (!done) {
    if (context.run_one_until(until) == 0) break;
  }
  if (done) return *done;
  outcome ignored;
  stream.close(ignored);
  context.run();
  return asio::error::timed_out;
}

std::string words_for(const outcome& trouble) {
  if (trouble == asio::error::timed_out) return "no answer in time";
  if (trouble == asio::error::eof || trouble == asio::error::connection_reset || trouble == asio::error::broken_pipe)
    return "the connection was dropped";
  if (trouble == asio::error::not_found) return "an answer without an end";
  return trouble.message();
}

enum class end_of_line { no, yes };

/// Throws away what an instrument sent unasked: it is no answer to the question that comes now.
end_of_line drained(int descriptor) {
  char unasked[1024];
  constexpr int most = 256;  // an instrument that never stops talking is still asked
  for (int i = 0; i < most; ++i) {
    pollfd wait{descriptor, POLLIN, 0};
    if (::poll(&wait, 1, 0) <= 0 || (wait.revents & POLLIN) == 0) return end_of_line::no;
    const auto count = ::read(descriptor, unasked, sizeof unasked);
    if (count == 0) return end_of_line::yes;
    if (count < 0) return end_of_line::no;
  }
  return end_of_line::no;
}

using addresses = asio::ip::tcp::resolver::results_type;

/// The addresses of a name, waited for until the time is up. A look-up that hangs in the system's resolver cannot be
/// called off: it is left to a thread of its own, which Asio's own resolver would wait for at its end.
addresses looked_up(const std::string& host, const std::string& service, std::chrono::steady_clock::time_point until,
                    outcome& trouble) {
  struct answer {
    addresses found;
    outcome trouble;
  };
  auto promised = std::make_shared<std::promise<answer>>();
  auto later = promised->get_future();
  std::thread([promised, host, service] {
    answer out;
    asio::io_context context;
    out.found = asio::ip::tcp::resolver(context).resolve(host, service, out.trouble);
    promised->set_value(std::move(out));
  }).detach();
  if (later.wait_until(until) != std::future_status::ready) {
    trouble = asio::error::timed_out;
    return {};
  }
  auto out = later.get();
  trouble = out.trouble;
  return std::move(out.found);
}

}  // namespace

struct instrument_link::connection {
  asio::io_context context;
  asio::ip::tcp::socket socket{context};
  asio::serial_port port{context};
  bool serial = false;
  asio::streambuf input{longest_answer};

  outcome open_tcp(const std::string& host, const std::string& service, std::chrono::steady_clock::time_point until) {
    outcome trouble;
    const auto found = looked_up(host, service, until, trouble);
    if (trouble) return trouble;
    std::optional<outcome> done;
    asio::async_connect(socket, found, [&](const outcome& result, const auto&) { done = result; });
    return wait_for(context, socket, done, until);
  }

  outcome open_serial(const std::string& device, unsigned baud) {
    serial = true;
    outcome trouble;
    port.open(device, trouble);
    if (!trouble) port.set_option(asio::serial_port_base::baud_rate(baud), trouble);
    return trouble;
  }

  template <class Stream>
  outcome exchange(Stream& stream, const std::string& line, std::string& answer,
                   std::chrono::steady_clock::time_point until) {
    input.consume(input.size());  // of an answer that came too late
    if (drained(stream.native_handle()) == end_of_line::yes) return asio::error::eof;
    std::optional<outcome> done;
    asio::async_write(stream, asio::buffer(line), [&](const outcome& result, std::size_t) { done = result; });
    if (const auto trouble = wait_for(context, stream, done, until)) return trouble;
    done.reset();
    asio::async_read_until(stream, input, '\n', [&](const outcome& result, std::size_t) { done = result; });
    if (const auto trouble = wait_for(context, stream, done, until)) return trouble;
    std::istream lines(&input);
    std::getline(lines, answer);
    return {};
  }

  outcome ask(const std::string& line, std::string& answer, std::chrono::steady_clock::time_point until) {
    return serial ? exchange(port, line, answer, until) : exchange(socket, line, answer, until);
  }
};

instrument_link::instrument_link(const record::instrument_section& meter)
    : address_(meter.address.value_or("")),
      query_(meter.query.value_or("")),
      timeout_s_(meter.timeout_s.value_or(usual_timeout_s)) {}
instrument_link::~instrument_link() = default;
instrument_link::instrument_link(instrument_link&&) noexcept = default;

namespace {

/// tcp://host:port or serial:device@baud taken apart; an empty device means TCP.
struct place_on_bench {
  std::string host;
  std::string port;
  std::string device;
  unsigned baud = usual_baud;
};

place_on_bench place_of(std::string_view address) {
  constexpr std::string_view tcp = "tcp://";
  constexpr std::string_view serial = "serial:";
  place_on_bench out;
  if (address.starts_with(tcp)) {
    address.remove_prefix(tcp.size());
    const auto colon = address.rfind(':');
    out.host = address.substr(0, colon);
    out.port = colon == std::string_view::npos ? "5025" : address.substr(colon + 1);
    return out;
  }
  address.remove_prefix(serial.size());
  const auto at = address.rfind('@');
  out.device = address.substr(0, at);
  if (at != std::string_view::npos) {
    const auto digits = address.substr(at + 1);
    std::from_chars(digits.data(), digits.data() + digits.size(), out.baud);
  }
  return out;
}

}  // namespace

std::variant<double, no_reading> instrument_link::read() {
  const auto until =
      std::chrono::steady_clock::now() + std::chrono::microseconds(static_cast<long long>(1e6 * timeout_s_));
  std::string answer;
  outcome trouble;
  for (int attempt = 0; attempt < 2; ++attempt) {
    const bool kept_open = open_ != nullptr;
    trouble = {};
    if (!kept_open) {
      open_ = std::make_unique<connection>();
      const auto place = place_of(address_);
      trouble = place.device.empty() ? open_->open_tcp(place.host, place.port, until)
                                     : open_->open_serial(place.device, place.baud);
    }
    if (!trouble) trouble = open_->ask(query_ + "\n", answer, until);
    if (!trouble) return scpi_answer(answer);
    open_.reset();
    // A line that was good before may have been dropped meanwhile; a fresh one that fails will fail again.
    if (!kept_open || trouble == asio::error::timed_out) break;
  }
  return no_reading{address_ + ": " + words_for(trouble)};
}

}  // namespace rewound::tool::dialogue
