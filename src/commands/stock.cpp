#include <memory>

#include "commands/asking.hpp"
#include "commands/command.hpp"
#include "commands/output.hpp"
#include "commands/shop.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/files/new_files.hpp"
#include "counterspot/guide/stock_guide.hpp"
#include "files/output_file.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

struct NewStockAsked {
  std::string out = "stock.toml";
  FileAnswers answers;
  bool json = false;
  const Words* words = &english();
};

void run_stock_new(NewStockAsked& asked) {
  admit_new_file(asked.out);
  ask_rest(asked.answers, {next_stock_question, check_stock_answer}, *asked.words);
  const std::string text = new_stock_text(asked.answers, asked.words->language);
  read_stock_text(text, asked.out);  // never leave a file that cannot be read
  write_output(asked.out, text, {});
  keep_stock_answers(asked.out, asked.answers, text);  // so that the page can change it
  const std::string next = shop_value("stock").empty() ? "counterspot shop stock " + asked.out : "counterspot";
  if (asked.json) return print_json({{"written", asked.out}, {"next", next}});
  print(written_text(asked.out, *asked.words) + say(asked.words->commands().next, next));
}

}  // namespace

void add_stock(CLI::App& program, int& /*exit_code*/) {
  auto asked = std::make_shared<NewStockAsked>();
  CLI::App* stock = program.add_subcommand("stock", "The pieces there are to fit");
  stock->require_subcommand(1);
  stock->footer("Example:\n  counterspot stock new\n  counterspot manual stock-file");
  CLI::App* command = stock->add_subcommand(
      "new", "Write the stock's file: asks which washers, slugs, strips and clamps there are, one question at a time");
  command->add_option("--out", asked->out, "The file")->capture_default_str();
  add_answer_options(*command, stock_questions(), asked->answers);
  add_language_option(*command, asked->words);
  command->add_flag("--json", asked->json, "One JSON document for programs");
  command->footer(
      "Example:\n  counterspot stock new\n  counterspot stock new --washer '16 mm: 2.9 g' --strip '12 x 3 mm, 0.283 "
      "g/mm' < /dev/null\n"
      "Lines of standard input answer what is not typed. A file that is there is never written over.");
  command->callback([asked] { run_stock_new(*asked); });
}

}  // namespace counterspot::commands
