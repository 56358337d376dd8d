#include <fmt/format.h>

#include <filesystem>
#include <memory>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "commands/roff.hpp"
#include "files/output_file.hpp"
#include "report/file_reference.hpp"

namespace counterspot::commands {

namespace {

/// Manual pages in the macros of man(7), read from the commands themselves, so that they say what --help says.
struct ManualAsked {
  std::string of;
  bool schema = false;
  std::string folder;
};

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

std::string footer_of(const CLI::App& command) {
  const std::string footer = command.get_footer();
  if (footer.empty()) return "";
  return (footer.rfind("Example", 0) == 0 ? ".SH EXAMPLES\n" : ".SH NOTES\n") + as_it_stands(footer);
}

/// A command; the steps of one that has steps, such as `job spin`, are sections of their own.
std::string page_of(const CLI::App& command) {
  const std::string called = "counterspot " + command.get_name();
  std::string page = heading("counterspot-" + command.get_name(), 1, command.get_description());
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

/// "counterspot-rig-file": the page of a file a person writes.
std::string page_name(FileKind kind) {
  return fmt::format("counterspot-{}", about(kind).page);
}

std::string key_list(const KeySection& section) {
  std::string list;
  for (const FileKey* key : section.keys)
    list += fmt::format(".TP\n\\fB{}\\fR\n{}\n({})\n", escaped(key->written()), escaped(key->effect),
                        escaped(terms_of(*key)));
  return list;
}

std::string page_of(FileKind kind) {
  const FileAbout& file = about(kind);
  std::string page = heading(page_name(kind), 5, fmt::format("the file of {}", file.does));
  page += ".SH DESCRIPTION\nA text in TOML, " + escaped(file.file) +
          " in every example. Every quantity carries its unit.\n";
  page += "Paths are seen from the file they stand in. The shortest:\n.PP\n" + as_it_stands(std::string(file.shortest));
  page += ".SH KEYS\n";
  for (const KeySection& section : sections_of(kind)) {
    if (section.table != nullptr)
      page += fmt::format(".SS {}\n{}\n({})\n", escaped(section.head), escaped(section.table->effect),
                          escaped(terms_of(*section.table)));
    page += key_list(section);
  }
  return page + ".SH SEE ALSO\n.BR counterspot (1)\n";
}

std::string page_of_program(const CLI::App& program) {
  std::string page = heading("counterspot", 1, "balance drive shafts in two planes, from recordings to a verdict");
  page += ".SH SYNOPSIS\n.B counterspot\n.I command\n[\\fIoptions\\fR]\n.SH DESCRIPTION\n";
  page += escaped(program.get_description()) + "\nEach command has a page of its own.\n.SH COMMANDS\n";
  for (const CLI::App* command : program.get_subcommands({}))
    page +=
        fmt::format(".TP\n.BR counterspot\\-{} (1)\n{}\n", command->get_name(), escaped(command->get_description()));
  page += ".SH FILES\n";
  for (const FileKind kind : file_kinds)
    page += fmt::format(".TP\n.BR {} (5)\nThe file of {}.\n", escaped(page_name(kind)), escaped(about(kind).does));
  return page + ".SH OPTIONS\n" + option_list(program) + footer_of(program);
}

void write_page(const std::filesystem::path& path, const std::string& page) {
  write_output(path, page, {Overwrite::drawings, {}});
}

void write_all(const CLI::App& program, const std::filesystem::path& folder) {
  write_page(folder / "counterspot.1", page_of_program(program));
  for (const CLI::App* command : program.get_subcommands({}))
    write_page(folder / ("counterspot-" + command->get_name() + ".1"), page_of(*command));
  for (const FileKind kind : file_kinds) write_page(folder / (page_name(kind) + ".5"), page_of(kind));
}

void print_file(FileKind kind, bool schema) {
  if (!schema) return print(reference_text(kind));
  print(schema_of(kind).dump(2) + "\n");
}

void run_manual(const CLI::App& program, const ManualAsked& asked) {
  if (!asked.folder.empty()) return write_all(program, asked.folder);
  for (const FileKind kind : file_kinds)
    if (asked.of == about(kind).page) return print_file(kind, asked.schema);
  if (asked.schema)
    throw Error(Trouble::request, "no_schema", "a schema is of a file, and none is named",
                "name rig-file, shaft-file, spins-file, stock-file or shop-file");
  if (asked.of.empty()) return print(page_of_program(program));
  for (const CLI::App* command : program.get_subcommands({})) {
    if (command->get_name() == asked.of) return print(page_of(*command));
  }
  throw Error(Trouble::request, "no_such_command", fmt::format("there is no command '{}'", asked.of),
              "'counterspot --help' lists them");
}

}  // namespace

void add_manual(CLI::App& program, int&) {
  auto asked = std::make_shared<ManualAsked>();
  CLI::App* command =
      program.add_subcommand("manual", "Print every key of a file you write, or the manual page of a command");
  CLI::Option* of = command->add_option(
      "of", asked->of,
      "rig-file, shaft-file, spins-file, stock-file or shop-file; or a command; the program itself if not given");
  CLI::Option* folder =
      command->add_option("--folder", asked->folder, "Write the pages of all commands and files into this folder");
  folder->excludes(of);
  command->add_flag("--schema", asked->schema, "Of a file: its JSON schema, by which editors check and complete")
      ->excludes(folder);
  command->footer("Example:\n  counterspot manual shaft-file\n  counterspot manual solve | man -l -");
  command->callback([asked, &program] { run_manual(program, *asked); });
}

}  // namespace counterspot::commands
