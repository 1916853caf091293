// SPDX-License-Identifier: MIT
#include "terminal.hpp"

#include <cerrno>
#include <clocale>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <iostream>

#include <histedit.h>
#include <langinfo.h>
#include <poll.h>
#include <unistd.h>

#include <rewound/report/layout.hpp>

namespace rewound::tool::bench {

namespace {

volatile std::sig_atomic_t interrupted = 0;

void on_interrupt(int) { interrupted = 1; }

bool dumb_terminal() {
  const char* name = std::getenv("TERM");
  return name == nullptr || *name == '\0' || std::strcmp(name, "dumb") == 0;
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

std::string terminal::ask(const std::string& prompt) {
  status("");
  const std::string shown = unicode_ ? prompt : in_ascii(prompt);
  if (!editor_) {
    write_out(shown);
    std::string line;
    if (!std::getline(std::cin, line)) {
      write_out("\n");
      throw gone();
    }
    while (!line.empty() && (line.back() == '\r' || line.back() == ' ')) line.pop_back();
    write_out(line + "\n");  // a transcript that reads like the dialogue
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
  while (!line.empty() && (line.back() == '\n' || line.back() == '\r' || line.back() == ' ')) line.pop_back();
  if (!whole && line.empty()) throw gone();
  HistEvent event{};
  if (!line.empty()) history(editor_->past, &event, H_ENTER, line.c_str());
  return line;
}

void terminal::say(std::string_view text, std::string_view first, std::string_view rest) {
  status("");
  const auto lines = report::wrapped(std::string(first), std::string(rest), text);
  write_out(unicode_ ? lines : in_ascii(lines));
}

void terminal::draw(std::string_view lines) {
  status("");
  write_out(lines);
}

void terminal::caution(std::string_view text) {
  if (cautioned_.contains(text)) return;
  cautioned_.emplace(text);
  say(text, "CAUTION  ", "         ");
  wait_for_enter("press Enter when this has been read > ");
}

void terminal::wait_for_enter(const std::string& prompt) {
  for (auto line = ask(prompt); !line.empty(); line = ask(prompt)) say("\"" + line + "\" was not taken: Enter first, then type it.", "! ");
}

void terminal::status(std::string_view text) {
  if (!moves_) return;
  if (text.empty()) {
    if (status_shown_) write_out("\r" + std::string(78, ' ') + "\r");
    status_shown_ = false;
    return;
  }
  std::string line(text.substr(0, 78));
  line.resize(78, ' ');
  write_out("\r" + line);
  status_shown_ = true;
}

bool terminal::stopped_within(double seconds) {
  pollfd wait{STDIN_FILENO, POLLIN, 0};
  // Piped lines are answers to later questions, not keys: only the clock and an interrupt end a run there.
  const nfds_t watched = editor_ ? 1 : 0;
  const int found = ::poll(&wait, watched, static_cast<int>(seconds * 1000.0));
  if (interrupted != 0) {
    interrupted = 0;
    return true;
  }
  if (found <= 0) return false;
  if ((wait.revents & POLLIN) == 0) throw gone();
  char typed[256];
  if (::read(STDIN_FILENO, typed, sizeof typed) <= 0) throw gone();
  return true;
}

}  // namespace rewound::tool::bench
