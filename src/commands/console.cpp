#include "counterspot/console/console.hpp"

#include <chrono>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <memory>
#include <string>
#include <thread>

#include "commands/command.hpp"
#include "commands/live_options.hpp"
#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "commands/shop.hpp"
#include "counterspot/console/rig_setup_console.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

struct ConsoleAsked {
  std::string log, rig, new_rig, shafts, stock, recordings, source, speed, seconds, practice, token, token_file,
      watch_token, key;
  std::string address = "127.0.0.1";
  int port = 4810;
  LiveAsked live;
  const Words* words = &english();
};

/// Its first line: whoever lists the processes of a machine sees their options.
std::string token_in(const std::string& file) {
  std::string token;
  std::getline(std::ifstream(file), token);
  if (!token.empty() && token.back() == '\r') token.pop_back();
  if (!token.empty()) return token;
  throw Error(Trouble::request, "no_token", file + ": there is no token in its first line",
              "write one into it, and give this program the right to read it");
}

/// The page writes this file again and again, as the simulated rig reads it: what is something else stays.
void admit_control_file(const std::string& file) {
  std::string first;
  std::getline(std::ifstream(file), first);
  if (first.empty() || first.starts_with("drive ")) return;
  throw Error(Trouble::request, "file_exists", file + ": this is no control file of the simulated rig",
              "name the file that 'rigsim live --control' was given");
}

ConsoleOptions options_of(const ConsoleAsked& asked) {
  ConsoleOptions options;
  options.rig_file = asked.rig;
  options.shafts_folder = asked.shafts;
  options.stock_file = asked.stock;
  if (!asked.rig.empty()) options.shop_file = shop_file_of(asked.rig);
  options.recordings_folder = asked.recordings;
  options.source = asked.source;
  options.live = live_options_of(asked.live);
  if (!asked.speed.empty()) options.first_speed_rad_s = parse_quantity(asked.speed, Dimension::speed);
  if (!asked.seconds.empty()) options.spin_s = parse_quantity(asked.seconds, Dimension::time);
  options.address = asked.address;
  options.port = asked.port;
  options.token = asked.token_file.empty() ? asked.token : token_in(asked.token_file);
  if (options.token == "new") options.token = fresh_token();
  options.watch_token = asked.watch_token == "new" ? fresh_token() : asked.watch_token;
  if (!asked.key.empty()) options.key = signing_key_in(asked.key);
  options.practice_control = asked.practice;
  options.language = asked.words->language;
  options.program = program_name();
  return options;
}

constexpr std::chrono::milliseconds most_time_to_end{1500};

/// A recording that is still read, or a database that does not answer, keeps nobody waiting. Nothing is lost by it:
/// what was acknowledged is on the disk, and what is being recorded is closed first.
void end_within(std::chrono::milliseconds time) {
  std::thread([time] {
    std::this_thread::sleep_for(time);
    std::_Exit(0);
  }).detach();
}

RigSetupConsoleOptions setup_options_of(const ConsoleAsked& asked) {
  const ConsoleOptions options = options_of(asked);
  return {asked.new_rig, options.source, options.live, options.address, options.port, options.token, options.language};
}

/// Says where the page is, and waits until it is to end.
template <typename Page>
void serve(const Page& page, const sigset_t& ends, bool with_token, const Words& words) {
  for (const std::string& url : page.urls()) print(say(words.commands().log.page_at, url));
  for (const std::string& url : page.watch_urls()) print(say(words.commands().log.watch_at, url));
  print(words.commands().log.ctrl_c_ends);
  std::fflush(stdout);
  if (with_token) print_progress(words.commands().log.reachable);
  int signal = 0;
  sigwait(&ends, &signal);
  end_within(most_time_to_end);
}

void serve(const ConsoleAsked& asked) {
  sigset_t ends;
  sigemptyset(&ends);
  for (const int signal : {SIGINT, SIGTERM}) sigaddset(&ends, signal);
  pthread_sigmask(SIG_BLOCK, &ends, nullptr);  // before any thread, so that none of them takes it
  std::signal(SIGPIPE, SIG_IGN);
  if (!asked.practice.empty()) admit_control_file(asked.practice);
  if (!asked.new_rig.empty()) {
    const RigSetupConsoleOptions options = setup_options_of(asked);
    return serve(RigSetupConsole(options), ends, !options.token.empty(), *asked.words);
  }
  if (asked.rig.empty() || asked.recordings.empty()) {
    throw Error(Trouble::request, "no_rig", "it is not said which rig, and where its spins are kept",
                "give both: --rig rig.toml --recordings spins; or, where there is no rig file yet, --new-rig FOLDER");
  }
  const ConsoleOptions options = options_of(asked);
  serve(Console(open_log(asked.log, true), options), ends, !options.token.empty(), *asked.words);
}

}  // namespace

void add_console(CLI::App& program, int& /*exit_code*/) {
  auto asked = std::make_shared<ConsoleAsked>();
  CLI::App* command = program.add_subcommand("console", "The page at the rig, one instruction at a time");
  command->add_option("--rig", asked->rig, "The rig's file");
  command->add_option("--new-rig", asked->new_rig,
                      "Without a rig's file: find out how the rig is cabled and turns, and keep it in this folder");
  command->add_option("--source", asked->source,
                      std::string("Live samples: ") + source_words + "; without it recordings are brought to the page");
  add_live_options(*command, asked->live);
  command->add_option("--shafts", asked->shafts, "A folder of shaft files to choose from");
  command->add_option("--stock", asked->stock, "The stock file: weights of what there is, where it may go");
  command->add_option("--recordings", asked->recordings, "The folder where spins are kept");
  command->add_option("--speed", asked->speed, "Of a job's first spin, as in \"1620 rpm\"");
  command->add_option("--seconds", asked->seconds, "How long a spin is recorded (10 s)");
  add_log_option(*command, asked->log);
  add_language_option(*command, asked->words);
  command->add_option("--address", asked->address, "A numeric address; other than loopback only with a token")
      ->capture_default_str();
  command->add_option("--port", asked->port, "0: any free one")->capture_default_str();
  command->add_option("--token", asked->token, "What a screen must show once; 'new' makes one")
      ->envname("COUNTERSPOT_TOKEN");
  command->add_option("--token-file", asked->token_file,
                      "The same, from a file's first line, which no list of processes shows");
  command
      ->add_option("--watch-token", asked->watch_token,
                   "What a screen that only looks on must show once; 'new' makes one")
      ->envname("COUNTERSPOT_WATCH_TOKEN");
  command->add_option("--key", asked->key, "Sign each job that is closed here with this key, which 'log key' made");
  command->add_option("--practice", asked->practice, "Control file of the simulated rig, which the page then runs");
  command->footer(
      "Example:\n  counterspot console --rig rig.toml --source alsa:hw:1 --rate \"51.2 kHz\" --shafts . --recordings "
      "spins --speed \"1620 rpm\"\n  counterspot console --new-rig .\n\n" +
      cautions());
  command->callback([asked] { serve(*asked); });
}

}  // namespace counterspot::commands
