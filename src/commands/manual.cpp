#include <fmt/format.h>

#include <filesystem>
#include <memory>

#include "commands/command.hpp"
#include "commands/help_language.hpp"
#include "commands/output.hpp"
#include "commands/roff.hpp"
#include "commands/shop.hpp"
#include "drawing/manual_words_de.hpp"
#include "files/output_file.hpp"
#include "report/file_reference.hpp"

namespace counterspot::commands {

namespace {

/// Manual pages in the macros of man(7), read from the commands themselves, so that they say what --help says.
struct ManualAsked {
  std::string of;
  bool schema = false;
  std::string folder;
  const Words* words = nullptr;
};

std::string section(std::string_view name) {
  return fmt::format(".SH {}\n", name);
}

std::string option_entry(const CLI::App& command, const CLI::Option& option) {
  const std::string name = option.get_positional() ? option.get_name(true) : option.get_name(false, true);
  const std::string type = option.get_positional() ? "" : option.get_type_name();
  std::string entry = fmt::format(".TP\n.B {}", escaped(name));
  if (!type.empty()) entry += " " + escaped(command.get_formatter()->get_label(type));
  entry += "\n" + escaped(option.get_description());
  if (!option.get_default_str().empty()) entry += fmt::format(" [{}]", escaped(option.get_default_str()));
  return entry + "\n";
}

std::string option_list(const CLI::App& command) {
  std::string list;
  for (const CLI::Option* option : command.get_options()) list += option_entry(command, *option);
  return list;
}

std::string synopsis(const CLI::App& command, const std::string& called, const Saying& said) {
  std::string line = ".B " + escaped(called) + "\n";
  for (const CLI::Option* option : command.get_options()) {
    if (option->get_positional()) line += fmt::format(".I {}\n", escaped(option->get_name(true)));
    if (!option->get_positional() && option->get_required())
      line += fmt::format("{} {}\n", escaped(option->get_name(false, true)),
                          escaped(command.get_formatter()->get_label(option->get_type_name())));
  }
  return line + fmt::format("[\\fI{}\\fR]\n", said("options"));
}

std::string footer_of(const CLI::App& command, const Saying& said) {
  const std::string footer = command.get_footer();
  if (footer.empty()) return "";
  return section(said(footer.starts_with(said("Example")) ? "EXAMPLES" : "NOTES")) + as_it_stands(footer);
}

/// A command; the steps of one that has steps, such as `job spin`, are sections of their own.
std::string page_of(const CLI::App& command, const Saying& said) {
  const std::string called = "counterspot " + command.get_name();
  std::string page = heading("counterspot-" + command.get_name(), 1, command.get_description(), said);
  const auto steps = command.get_subcommands({});
  page += section(said("SYNOPSIS"));
  if (steps.empty()) page += synopsis(command, called, said);
  for (std::size_t i = 0; i < steps.size(); ++i)
    page += (i == 0 ? "" : ".br\n") + synopsis(*steps[i], called + " " + steps[i]->get_name(), said);
  page += section(said("OPTIONS")) + option_list(command);
  if (!steps.empty()) page += section(said("STEPS"));
  for (const CLI::App* step : steps) {
    page +=
        fmt::format(".SS {}\n{}\n", escaped(step->get_name()), escaped(step->get_description())) + option_list(*step);
    if (!step->get_footer().empty()) page += ".PP\n" + as_it_stands(step->get_footer());
  }
  return page + footer_of(command, said) + section(said("SEE ALSO")) + ".BR counterspot (1)\n";
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

/// In English, as the package has it; a terminal shows reference_text.
std::string page_of(FileKind kind) {
  const FileAbout& file = about(kind);
  std::string page = heading(page_name(kind), 5, fmt::format("the file of {}", file.does), in_english);
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

std::string page_of_program(const CLI::App& program, const Saying& said) {
  std::string page =
      heading("counterspot", 1, said("balance drive shafts in two planes, from recordings to a verdict"), said);
  page += section(said("SYNOPSIS")) +
          fmt::format(".B counterspot\n.I {}\n[\\fI{}\\fR]\n", said("command"), said("options"));
  page += section(said("DESCRIPTION")) + escaped(program.get_description());
  page += fmt::format("\n{}\n", said("Each command has a page of its own.")) + section(said("COMMANDS"));
  for (const CLI::App* command : program.get_subcommands({}))
    page +=
        fmt::format(".TP\n.BR counterspot\\-{} (1)\n{}\n", command->get_name(), escaped(command->get_description()));
  page += section(said("FILES"));
  for (const FileKind kind : file_kinds)
    page += fmt::format(".TP\n.BR {} (5)\n{}\n", escaped(page_name(kind)), escaped(does_of(kind, said)));
  return page + section(said("OPTIONS")) + option_list(program) + footer_of(program, said);
}

void write_page(const std::filesystem::path& path, const std::string& page) {
  write_output(path, page, {Overwrite::drawings, {}});
}

void write_all(const CLI::App& program, const std::filesystem::path& folder) {
  write_page(folder / "counterspot.1", page_of_program(program, in_english));
  for (const CLI::App* command : program.get_subcommands({}))
    write_page(folder / ("counterspot-" + command->get_name() + ".1"), page_of(*command, in_english));
  for (const FileKind kind : file_kinds) write_page(folder / (page_name(kind) + ".5"), page_of(kind));
}

void print_file(FileKind kind, bool schema, const Saying& said) {
  if (!schema) return print(reference_text(kind, said));
  print(schema_of(kind).dump(2) + "\n");
}

/// What is read at once is in the reader's language; what is kept, pages in a folder and schemas, in English.
void run_manual(CLI::App& program, const ManualAsked& asked) {
  if (!asked.folder.empty()) return write_all(program, asked.folder);
  const Saying said = asked.words == &german() ? Saying(said_in_german_manual) : Saying(in_english);
  for (const FileKind kind : file_kinds)
    if (asked.of == about(kind).page) return print_file(kind, asked.schema, said);
  if (asked.schema)
    throw Error(Trouble::request, "no_schema", "a schema is of a file, and none is named",
                "name rig-file, shaft-file, spins-file, stock-file or shop-file");
  say_help_in(program, *asked.words);
  if (asked.of.empty()) return print(page_of_program(program, said));
  for (const CLI::App* command : program.get_subcommands({})) {
    if (command->get_name() == asked.of) return print(page_of(*command, said));
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
  add_language_option(*command, asked->words);
  asked->words = &words_here({});  // a shop file that is wrong does not keep its own manual from being read
  command->footer("Example:\n  counterspot manual shaft-file\n  counterspot manual solve | man -l -");
  command->callback([asked, &program] { run_manual(program, *asked); });
}

}  // namespace counterspot::commands
