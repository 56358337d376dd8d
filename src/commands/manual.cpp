#include <fmt/format.h>

#include <filesystem>
#include <memory>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "counterspot/version.hpp"
#include "files/drawn_mark.hpp"
#include "files/output_file.hpp"

namespace counterspot::commands {

namespace {

/// Manual pages in the macros of man(7), read from the commands themselves, so that they say what --help says.
struct ManualAsked {
  std::string command;
  std::string folder;
};

/// Text as roff takes it: backslashes and hyphens as they are, no line that could be taken for a request.
std::string escaped(const std::string& text) {
  std::string out;
  for (char c : text) {
    const bool line_begins = out.empty() || out.back() == '\n';
    if (line_begins && (c == '.' || c == '\'')) out += "\\&";
    if (c == '\\') {
      out += "\\e";
    } else if (c == '-') {
      out += "\\-";
    } else {
      out += c;
    }
  }
  return out;
}

/// Lines as they stand, such as examples.
std::string as_it_stands(const std::string& text) {
  return text.empty() ? "" : ".nf\n" + escaped(text) + (text.back() == '\n' ? "" : "\n") + ".fi\n";
}

std::string option_entry(const CLI::Option& option) {
  const std::string name = option.get_positional() ? option.get_name(true) : option.get_name(false, true);
  const std::string type = option.get_positional() ? "" : option.get_type_name();
  std::string entry = fmt::format(".TP\n.B {}", escaped(name));
  if (!type.empty()) entry += " " + escaped(type);
  entry += "\n" + escaped(option.get_description());
  if (!option.get_default_str().empty()) entry += fmt::format(" [{}]", escaped(option.get_default_str()));
  return entry + "\n";
}

std::string option_list(const CLI::App& command) {
  std::string list;
  for (const CLI::Option* option : command.get_options()) list += option_entry(*option);
  return list;
}

std::string synopsis(const CLI::App& command, const std::string& called) {
  std::string line = ".B " + escaped(called) + "\n";
  for (const CLI::Option* option : command.get_options()) {
    if (option->get_positional()) line += fmt::format(".I {}\n", escaped(option->get_name(true)));
    if (!option->get_positional() && option->get_required())
      line += fmt::format("{} {}\n", escaped(option->get_name(false, true)), escaped(option->get_type_name()));
  }
  return line + "[\\fIoptions\\fR]\n";
}

std::string heading(const std::string& page, const std::string& does) {
  return fmt::format(
      "{}.TH {} 1 \"\" \"counterspot {}\" \"Counterspot\"\n"
      ".SH NAME\n{} \\- {}\n",
      mark_in_manual, page, version, escaped(page), escaped(does));
}

std::string footer_of(const CLI::App& command) {
  const std::string footer = command.get_footer();
  if (footer.empty()) return "";
  return (footer.rfind("Example", 0) == 0 ? ".SH EXAMPLES\n" : ".SH NOTES\n") + as_it_stands(footer);
}

/// A command; the steps of one that has steps, such as `job spin`, are sections of their own.
std::string page_of(const CLI::App& command) {
  const std::string called = "counterspot " + command.get_name();
  std::string page = heading("counterspot-" + command.get_name(), command.get_description());
  const auto steps = command.get_subcommands({});
  page += ".SH SYNOPSIS\n";
  if (steps.empty()) page += synopsis(command, called);
  for (std::size_t i = 0; i < steps.size(); ++i)
    page += (i == 0 ? "" : ".br\n") + synopsis(*steps[i], called + " " + steps[i]->get_name());
  page += ".SH OPTIONS\n" + option_list(command);
  if (!steps.empty()) page += ".SH STEPS\n";
  for (const CLI::App* step : steps) {
    page +=
        fmt::format(".SS {}\n{}\n", escaped(step->get_name()), escaped(step->get_description())) + option_list(*step);
    if (!step->get_footer().empty()) page += ".PP\n" + as_it_stands(step->get_footer());
  }
  return page + footer_of(command) + ".SH SEE ALSO\n.BR counterspot (1)\n";
}

std::string page_of_program(const CLI::App& program) {
  std::string page = heading("counterspot", "balance drive shafts in two planes, from recordings to a verdict");
  page += ".SH SYNOPSIS\n.B counterspot\n.I command\n[\\fIoptions\\fR]\n.SH DESCRIPTION\n";
  page += escaped(program.get_description()) + "\nEach command has a page of its own.\n.SH COMMANDS\n";
  for (const CLI::App* command : program.get_subcommands({}))
    page +=
        fmt::format(".TP\n.BR counterspot\\-{} (1)\n{}\n", command->get_name(), escaped(command->get_description()));
  return page + ".SH OPTIONS\n" + option_list(program) + footer_of(program);
}

void write_page(const std::filesystem::path& path, const std::string& page) {
  write_output(path, page, {Overwrite::drawings, {}});
}

void write_all(const CLI::App& program, const std::filesystem::path& folder) {
  write_page(folder / "counterspot.1", page_of_program(program));
  for (const CLI::App* command : program.get_subcommands({}))
    write_page(folder / ("counterspot-" + command->get_name() + ".1"), page_of(*command));
}

void run_manual(const CLI::App& program, const ManualAsked& asked) {
  if (!asked.folder.empty()) return write_all(program, asked.folder);
  if (asked.command.empty()) return print(page_of_program(program));
  for (const CLI::App* command : program.get_subcommands({})) {
    if (command->get_name() == asked.command) return print(page_of(*command));
  }
  throw Error(Trouble::request, "no_such_command", fmt::format("there is no command '{}'", asked.command),
              "'counterspot --help' lists them");
}

}  // namespace

void add_manual(CLI::App& program, int&) {
  auto asked = std::make_shared<ManualAsked>();
  CLI::App* command = program.add_subcommand("manual", "Print the manual page of the program, or of a command");
  CLI::Option* of = command->add_option("command", asked->command, "The command; the program itself if not given");
  command->add_option("--folder", asked->folder, "Write the pages of all commands into this folder")->excludes(of);
  command->footer("Example:\n  counterspot manual solve | man -l -");
  command->callback([asked, &program] { run_manual(program, *asked); });
}

}  // namespace counterspot::commands
