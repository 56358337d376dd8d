#include "counterspot/sheet/sheet.hpp"

#include <algorithm>
#include <memory>

#include "commands/command.hpp"
#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

struct SheetAsked {
  std::string log;
  std::string job;
  std::string out;
  const Words* words = &english();
  std::string paper = "a4";
  std::string units = "metric";
  bool replace = false;
  bool json = false;
};

/// A job's name as a file's: "PS-1042/1" becomes "PS-1042-1.pdf".
std::string file_for(std::string job) {
  std::replace(job.begin(), job.end(), '/', '-');
  return job + ".pdf";
}

bool is_html(const std::string& file) {
  return file.ends_with(".html") || file.ends_with(".htm");
}

PictureFormat page_format(const std::string& file) {
  try {
    return picture_format(file);
  } catch (const Error& error) {
    throw Error(error.trouble(), error.code(), error.what(), "end the name in .pdf, .svg, .png or .html");
  }
}

void write_sheet(const SheetAsked& asked) {
  const std::string file = asked.out.empty() ? file_for(asked.job) : asked.out;
  const Words& words = *asked.words;
  const PictureFormat format = is_html(file) ? PictureFormat::svg : page_format(file);
  const UnitSystem units = asked.units == "inch" ? UnitSystem::inch : UnitSystem::metric;
  const Sheet sheet = sheet_of(log_to_read(asked.log), asked.job, units);
  if (asked.json) {
    print(sheet_json(sheet) + "\n");
    return;
  }
  const Paper paper = asked.paper == "letter" ? Paper::letter : Paper::a4;
  const OutputRules rules = drawing_rules(asked.replace, files_of_log(asked.log));
  admit_output(file, rules);
  write_output(file, is_html(file) ? sheet_html(sheet, words, units) : sheet_file(sheet, format, words, units, paper),
               rules);
  print(say(words.commands().log.sheet_written, file, sheet.job));
}

}  // namespace

void add_sheet(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<SheetAsked>();
  CLI::App* command =
      program.add_subcommand("sheet", "The balance sheet of a job, for the customer and the file, to be signed");
  add_log_option(*command, asked->log);
  command->add_option("job", asked->job, "The job's name, as 'log list' shows it")->required();
  command->add_option("--out", asked->out,
                      "The file: .pdf, .svg, .png or .html (default: the job's name with .pdf); where it takes several "
                      "pages, .svg and .png have them one below another");
  add_replace_option(*command, asked->replace);
  add_language_option(*command, asked->words);
  command->add_option("--paper", asked->paper, "a4 or letter")
      ->check(CLI::IsMember({"a4", "letter"}))
      ->capture_default_str();
  command->add_option("--units", asked->units, "Of all numbers: metric, or inch, oz, lb and oz·in (tape to 1/16 in)")
      ->check(CLI::IsMember({"metric", "inch"}))
      ->capture_default_str();
  command->add_flag("--json", asked->json, "One JSON document on standard output instead");
  command->footer(
      "Example:\n  counterspot sheet PS-1042/1 --out PS-1042.pdf --language de\n\nWhat [order] in the shaft file "
      "states is "
      "filled in, the rest are lines to write on:\n  [order]\n  customer = \"Marrow Creek\"   # number, part, serial, "
      "shop, balanced_by, inspected_by, fixed_by, limits_by");
  command->callback([asked, &exit_code] {
    write_sheet(*asked);
    exit_code = 0;
  });
}

}  // namespace counterspot::commands
