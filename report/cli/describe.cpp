#include "report/cli/describe.h"

#include <fmt/format.h>

#include <cstdio>
#include <map>
#include <sstream>
#include <string_view>

#include "report/text/words.h"

namespace proveout::cli {

namespace po = boost::program_options;

namespace {

// "arg (=0.03)" and the like: what an option is called and what it is without.
void split_argument(const po::option_description& option, OptionText& out) {
  if (option.semantic()->max_tokens() == 0) return;
  const std::string words = option.format_parameter();
  const auto at = words.find(" (=");
  out.argument = words.substr(0, at);
  if (at != std::string::npos) out.fallback = words.substr(at + 3, words.size() - at - 4);
}

OptionText text_of(const po::option_description& option) {
  OptionText out;
  out.name = "--" + option.long_name();
  const std::string letter =
      option.canonical_display_name(po::command_line_style::allow_dash_for_short);
  if (letter.size() == 2 && letter[0] == '-') out.letter = letter;
  split_argument(option, out);
  out.text = option.description();
  return out;
}

bool takes_file(const OptionText& o) {
  return o.argument == "DIR" || o.argument == "FILE" || o.argument.find('.') != std::string::npos;
}

// What --fail-on takes, as its help names it and as a shell offers it.
constexpr std::string_view levels_argument = "LEVEL", levels = "none note warning error";

std::string joined(const std::vector<std::string>& words) {
  std::string out;
  for (const auto& w : words) out += (out.empty() ? "" : " ") + w;
  return out;
}

std::vector<std::string> words_of(const CommandText& c) {
  std::vector<std::string> out;
  for (const OptionText& o : c.options) out.push_back(o.name);
  return out;
}

// Options by what stands behind them, over all commands: "--out|-o" and so on; one that takes a
// file anywhere is among the files.
struct ArgumentKinds {
  std::string folders, files, others;
};

ArgumentKinds argument_kinds() {
  std::map<std::string, std::string> kinds;
  for (const CommandText& c : described_commands()) {
    for (const OptionText& o : c.options) {
      if (o.argument.empty() || o.argument == levels_argument) continue;
      const std::string kind = o.argument == "DIR" ? "folder" : takes_file(o) ? "file" : "other";
      for (const std::string& word : {o.name, o.letter}) {
        if (word.empty()) continue;
        std::string& known = kinds[word];
        known = known.empty() || known == kind || kind == "file" ? kind : known;
      }
    }
  }
  ArgumentKinds out;
  for (const auto& [word, kind] : kinds) {
    std::string& list = kind == "folder" ? out.folders : kind == "file" ? out.files : out.others;
    list += (list.empty() ? "" : "|") + word;
  }
  return out;
}

std::string bash() {
  std::string names, cases;
  for (const CommandText& c : described_commands()) {
    names += c.name + " ";
    cases += fmt::format("    {}) options='{}' ;;\n", c.name, joined(words_of(c)));
  }
  const ArgumentKinds kinds = argument_kinds();
  // compgen wants a name as it is and gives a line each; bash quotes what needs it.
  return "# bash completion for proveout\n"
         "_proveout_paths() {  # -f or -d, the word as typed\n"
         "  local name=$2\n"
         "  case $name in\n    \\\"* | \\'*) name=${name:1} ;;\n    *) name=${name//\\\\/} ;;\n"
         "  esac\n"
         "  while IFS= read -r name; do COMPREPLY+=(\"$name\"); done < <(compgen \"$1\" -- "
         "\"$name\")\n}\n"
         "_proveout() {\n"
         "  local word=${COMP_WORDS[COMP_CWORD]} options=\n"
         "  COMPREPLY=()\n"
         "  if [ \"$COMP_CWORD\" -eq 1 ]; then\n    COMPREPLY=($(compgen -W '" +
         names +
         "--help --version' -- \"$word\"))\n    return\n  fi\n"
         "  case ${COMP_WORDS[COMP_CWORD-1]} in\n"
         "    --fail-on) COMPREPLY=($(compgen -W '" +
         std::string(levels) + "' -- \"$word\")); return ;;\n    " + kinds.folders +
         ") _proveout_paths -d \"$word\"; return ;;\n    " + kinds.files +
         ") _proveout_paths -f \"$word\"; return ;;\n    " + kinds.others +
         ") return ;;\n  esac\n"
         "  case ${COMP_WORDS[1]} in\n" +
         cases +
         "  esac\n"
         "  if [[ $word == -* ]]; then\n    COMPREPLY=($(compgen -W \"$options\" -- \"$word\"))\n"
         "  else\n    _proveout_paths -f \"$word\"\n  fi\n}\n"
         "complete -o filenames -F _proveout proveout\n";
}

std::string quoted(std::string text) {  // inside single quotes of a shell, and [ ] : of zsh
  std::string out;
  for (char c : text) {
    if (c == '\'') {
      out += "'\\''";
    } else if (c == '[' || c == ']' || c == ':') {
      out += std::string("\\") + c;
    } else {
      out += c;
    }
  }
  return out;
}

std::string zsh() {
  std::string names, cases;
  for (const CommandText& c : described_commands()) {
    names += fmt::format("    '{}:{}'\n", c.name, quoted(c.summary));
    cases += fmt::format("    {})\n      _arguments", c.name);
    for (const OptionText& o : c.options) {
      const std::string takes = o.argument.empty()              ? ""
                                : o.argument == levels_argument ? fmt::format("({})", levels)
                                : o.argument == "DIR"           ? "_files -/"
                                : takes_file(o)                 ? "_files"
                                                                : " ";
      const std::string behind = fmt::format(
          "[{}]{}", quoted(o.text), takes.empty() ? "" : ":" + quoted(o.argument) + ":" + takes);
      // What may stand more than once; else both names of an option go once either is there.
      const bool repeated = o.text.find("repeated") != std::string::npos;
      if (o.letter.empty())
        cases += fmt::format(" \\\n        '{}{}{}'", repeated ? "*" : "", o.name, behind);
      else
        cases += fmt::format(" \\\n        '{}'{{{},{}}}'{}'",
                             repeated ? "*" : fmt::format("({} {})", o.letter, o.name), o.letter,
                             o.name, behind);
    }
    cases += " \\\n        '*:file:_files' ;;\n";
  }
  return "#compdef proveout\n# zsh completion for proveout\n_proveout() {\n  local -a commands\n  "
         "commands=(\n" +
         names +
         "  )\n  if (( CURRENT == 2 )); then\n    _describe command commands\n    return\n  fi\n"
         "  local name=$words[2]\n  shift words\n  (( CURRENT-- ))\n  case $name in\n" +
         cases + "  esac\n}\n_proveout \"$@\"\n";
}

std::string fish() {
  std::string out =
      "# fish completion for proveout\ncomplete -c proveout -f -n __fish_use_subcommand\n";
  const auto plain = [](std::string text) {
    std::string safe;
    for (char c : text) safe += c == '\'' ? std::string("\\'") : std::string(1, c);
    return safe;
  };
  for (const CommandText& c : described_commands()) {
    out += fmt::format("complete -c proveout -n __fish_use_subcommand -a {} -d '{}'\n", c.name,
                       plain(c.summary));
    for (const OptionText& o : c.options) {
      out += fmt::format(
          "complete -c proveout -n '__fish_seen_subcommand_from {}' -l {}{}{} -d '{}'\n", c.name,
          o.name.substr(2), o.letter.empty() ? "" : " -s " + o.letter.substr(1),
          o.argument.empty()              ? ""
          : o.argument == levels_argument ? fmt::format(" -x -a '{}'", levels)
          : o.argument == "DIR"           ? " -x -a '(__fish_complete_directories)'"
          : takes_file(o)                 ? " -r -F"
                                          : " -x",
          plain(o.text));
    }
  }
  return out;
}

// No minus becomes a hyphen, no line begins with a dot, none is longer than most.
std::string roff(const std::string& text, std::size_t most = 80) {
  std::string out, word;
  std::size_t length = 0;
  std::istringstream words(text);
  while (words >> word) {
    std::string escaped = word[0] == '.' || word[0] == '\'' ? "\\&" : "";
    for (char c : word)
      escaped += c == '\\' ? "\\e" : c == '-' ? std::string("\\-") : std::string(1, c);
    const bool breaks = length > 0 && length + 1 + escaped.size() > most;
    if (length > 0) out += breaks ? '\n' : ' ';
    length = (breaks || length == 0 ? 0 : length + 1) + escaped.size();
    out += escaped;
  }
  return out;
}

}  // namespace

std::vector<CommandText> described_commands() {
  std::vector<CommandText> out;
  for (const Command& c : commands()) {
    CommandText text{c.name, c.usage, c.summary, {}};
    if (const auto options = options_of(c.call)) {
      for (const auto& option : options->options()) text.options.push_back(text_of(*option));
    }
    out.push_back(std::move(text));
  }
  return out;
}

std::string completion_script(const std::string& shell) {
  if (shell == "bash") return bash();
  if (shell == "zsh") return zsh();
  if (shell == "fish") return fish();
  return {};
}

std::string manual_page() {
  constexpr std::size_t one_line = 10000;
  std::string out =
      ".TH PROVEOUT 1 \"" PROVEOUT_DATE "\" \"proveout " PROVEOUT_VERSION
      "\" \"User commands\"\n.SH NAME\nproveout \\- dry run of NC programs before they cut\n"
      ".SH SYNOPSIS\n.B proveout\n.I COMMAND\n[options]\n.SH DESCRIPTION\n" +
      roff(
          "Reads posted NC programs in the manner of ISO 6983, cuts them into a voxel stock and "
          "says what would happen: gouges, rapids through material, depth, loads, clearance, "
          "time, mass and cost, each with the line of the program.") +
      "\n.PP\n" +
      roff(
          "A clean result is no promise. What was not checked is listed with every run; the "
          "machine's manual, local rules and qualified people come first.") +
      "\n.SH COMMANDS\n";
  for (const CommandText& c : described_commands()) {
    out += ".SS " + roff(c.name + " " + c.usage, one_line) + "\n" + roff(c.summary) + ".\n";
    for (const OptionText& o : c.options) {
      out += ".TP\n.B " + roff((o.letter.empty() ? "" : o.letter + ", ") + o.name) +
             (o.argument.empty() ? "" : " " + roff(o.argument)) + "\n" +
             roff(o.text + (o.fallback.empty() ? "" : " (without: " + o.fallback + ")")) + "\n";
    }
  }
  out +=
      ".SH EXIT STATUS\n.TP\n.B 0\nran, nothing at or above \\-\\-fail\\-on\n.TP\n.B 1\nran, and "
      "something was\n"
      ".TP\n.B 2\nthe input could not be used\n.TP\n.B 3\nthe machine failed (disk full, out of "
      "memory)\n"
      ".SH FILES\nThe job file (TOML) is described in docs/job\\-file.md, the results in\n"
      "docs/result\\-file.md.\n";
  return out;
}

Status completion_command(const Arguments& arguments) {
  const po::options_description options;
  const auto values =
      parse(arguments, options, {"SHELL"},
            "usage: proveout completion SHELL\n\n"
            "Prints a completion script for bash, zsh or fish. Packages install them.");
  if (!values) return ran;
  const std::string shell = (*values)["SHELL"].as<std::vector<std::string>>().front();
  const std::string script = completion_script(shell);
  if (script.empty()) throw UsageError("completion knows bash, zsh and fish, not '" + shell + "'");
  std::fputs(script.c_str(), stdout);
  return ran;
}

Status manual_command(const Arguments& arguments) {
  const po::options_description options;
  const auto values = parse(arguments, options, {},
                            "usage: proveout manual\n\nPrints the manual page, for man -l.");
  if (!values) return ran;
  std::fputs(manual_page().c_str(), stdout);
  return ran;
}

}  // namespace proveout::cli
