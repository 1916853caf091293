// SPDX-License-Identifier: MIT
#include "dialogue/person/terminal.hpp"

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <clocale>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <iostream>

#include <histedit.h>
#include <langinfo.h>
#include <poll.h>
#include <unistd.h>

#include <rewound/base/characters.hpp>
#include <rewound/base/error.hpp>
#include <rewound/report/layout.hpp>

namespace rewound::tool::dialogue {

namespace {

volatile std::sig_atomic_t interrupted = 0;

constexpr std::size_t most_columns = 79;  // the narrowest terminal's, but one: at the last, some go on to the next line

void on_interrupt(int) { interrupted = 1; }

bool dumb_terminal() {
  const char* name = std::getenv("TERM");
  return name == nullptr || *name == '\0' || std::strcmp(name, "dumb") == 0;
}

/// Nothing that steers a terminal: such characters become question marks.
std::string without_controls(std::string_view text, bool keep_lines) { return base::seen_text(text, "?", keep_lines); }

void strip_end(std::string& line) {
  while (!line.empty() && (line.back() == '\n' || line.back() == '\r' || line.back() == ' ')) line.pop_back();
}

/// ASCII for a terminal that has no more: every other character becomes one question mark.
std::string in_ascii(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x80) out += c;
    else if ((byte & 0xC0U) == 0xC0U) out += '?';
  }
  return out;
}

void write_out(std::string_view text) {
  std::fwrite(text.data(), 1, text.size(), stdout);
  std::fflush(stdout);
}

}  // namespace

struct terminal::editing {
  EditLine* line = nullptr;
  History* past = nullptr;
  std::string prompt;

  static char* prompt_of(EditLine* line) {
    editing* self = nullptr;
    el_get(line, EL_CLIENTDATA, &self);
    return self->prompt.data();
  }

  editing() {
    line = el_init("rewound", stdin, stdout, stderr);
    el_set(line, EL_CLIENTDATA, this);
    el_set(line, EL_PROMPT, &editing::prompt_of);
    el_set(line, EL_EDITOR, "emacs");
    el_set(line, EL_SIGNAL, 1);
    past = history_init();
    HistEvent event{};
    history(past, &event, H_SETSIZE, 200);
    el_set(line, EL_HIST, history, past);
  }

  ~editing() {
    history_end(past);
    el_end(line);
  }

  editing(const editing&) = delete;
  editing& operator=(const editing&) = delete;
};

terminal::terminal() {
  std::setlocale(LC_CTYPE, "");
  unicode_ = std::strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
  struct sigaction action {};
  action.sa_handler = on_interrupt;  // without SA_RESTART: a wait for input ends
  sigaction(SIGINT, &action, nullptr);
  const bool both = isatty(STDIN_FILENO) != 0 && isatty(STDOUT_FILENO) != 0;
  moves_ = both && !dumb_terminal();
  if (both) editor_ = std::make_unique<editing>();
}

terminal::~terminal() = default;

std::string terminal::plain(std::string_view text) const {
  const auto out = without_controls(text, true);
  return unicode_ ? out : in_ascii(out);
}

std::string terminal::last_line_of(const std::string& prompt) {
  constexpr std::size_t room_for_answer = 12;
  if (report::columns(prompt) + room_for_answer <= most_columns) return prompt;
  constexpr std::string_view end = "> ";
  const bool marked = prompt.ends_with(end);
  write_out(report::wrapped("", "  ", marked ? prompt.substr(0, prompt.size() - end.size()) : prompt));
  return marked ? std::string(end) : "";
}

void terminal::echo(const std::string& prompt, const std::string& line) {
  const auto shown = plain(line);
  if (report::columns(prompt) + report::columns(shown) <= most_columns) write_out(shown + "\n");
  else write_out("\n" + report::wrapped("  ", "  ", shown));
}

std::string terminal::ask(const std::string& prompt) {
  status("");
  const std::string shown = last_line_of(plain(prompt));
  if (!typed_ahead_.empty()) {
    auto line = std::move(typed_ahead_.front());
    typed_ahead_.pop_front();
    write_out(shown);
    echo(shown, line);
    return line;
  }
  interrupted = 0;  // of a time when nothing was asked: the line typed next is not to suffer for it
  if (!editor_) {
    write_out(shown);
    std::string line;
    if (!std::getline(std::cin, line)) {
      write_out("\n");
      throw gone();
    }
    ++piped_lines_;
    strip_end(line);
    echo(shown, line);  // piped input is not echoed by a terminal
    return line;
  }
  editor_->prompt = shown;
  int count = 0;
  const char* typed = el_gets(editor_->line, &count);
  if (typed == nullptr || count <= 0 || interrupted != 0) {
    write_out("\n");
    throw gone();
  }
  std::string line(typed, static_cast<std::size_t>(count));
  const bool whole = line.ends_with('\n');
  strip_end(line);
  if (!whole && line.empty()) throw gone();
  HistEvent event{};
  if (!line.empty()) history(editor_->past, &event, H_ENTER, line.c_str());
  return line;
}

void terminal::say(std::string_view text, std::string_view first, std::string_view rest) {
  status("");
  write_out(plain(report::wrapped(std::string(first), std::string(rest), text)));
}

void terminal::draw(std::string_view lines) {
  status("");
  write_out(plain(lines));
}

void terminal::caution(std::string_view text) {
  if (cautioned_.contains(text)) return;
  cautioned_.emplace(text);
  say(text, "CAUTION  ", "         ");
  wait_for_enter("press Enter when this has been read > ");
}

void terminal::wait_for_enter(const std::string& prompt) {
  for (auto line = ask(prompt); !line.empty(); line = ask(prompt)) {
    if (line == "quit" || line == "exit") {
      if (note_) note_("typed", line);
      throw gone();
    }
    refuse(line, "Enter first, then type it");
    if (!editor_)
      throw base::error(base::error_code::out_of_range, {"standard input", static_cast<int>(piped_lines_), ""},
                        "\"" + plain(line) + "\"", "an empty line where Enter is asked for; nothing after it was read");
  }
}

void terminal::refuse(const std::string& line, const std::string& why) {
  if (note_) {
    note_("typed", line);
    note_("refused", line);
  }
  say("\"" + line + "\" was not taken: " + why + ".", "! ");
}

void terminal::status(std::string_view text) {
  if (!moves_) return;
  if (text.empty()) {
    if (status_shown_) write_out("\r" + std::string(78, ' ') + "\r");
    status_shown_ = false;
    return;
  }
  std::string line = plain(text).substr(0, 78);
  line.resize(78, ' ');
  write_out("\r" + line);
  status_shown_ = true;
}

namespace {

using steady = std::chrono::steady_clock;

/// One line of the terminal, which hands over whole lines only. @throws gone at the end of input
std::string line_waiting() {
  std::string line;
  char typed[256];
  do {
    const auto count = ::read(STDIN_FILENO, typed, sizeof typed);
    if (count <= 0) throw gone();
    line.append(typed, static_cast<std::size_t>(count));
  } while (line.back() != '\n' && line.size() % sizeof typed == 0);
  strip_end(line);
  return line;
}

bool is_word(const std::string& line) {
  const char c = line.front();
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '?';
}

}  // namespace

bool terminal::stopped_within(double seconds) {
  const auto until = steady::now() + std::chrono::duration<double>(seconds);
  for (;;) {
    pollfd wait{STDIN_FILENO, POLLIN, 0};
    // Piped lines are answers to later questions, not keys: only the clock and an interrupt end a run there.
    const nfds_t watched = editor_ ? 1 : 0;
    const double left = std::max(0.0, std::chrono::duration<double>(until - steady::now()).count());
    const int found = ::poll(&wait, watched, static_cast<int>(std::ceil(left * 1000.0)));
    if (interrupted != 0) {
      interrupted = 0;
      return true;
    }
    if (found <= 0) return false;
    if ((wait.revents & POLLIN) == 0) throw gone();
    auto line = line_waiting();
    if (line.empty()) return true;
    if (is_word(line)) {
      typed_ahead_.push_back(std::move(line));
      return true;
    }
    refuse(line, "the clock runs; type it when it is asked for");
  }
}

}  // namespace rewound::tool::dialogue
