#include "counterspot/guide/doctor.hpp"

#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>

#include "counterspot/files/files.hpp"
#include "counterspot/files/new_files.hpp"
#include "counterspot/guide/rig_guide.hpp"
#include "counterspot/guide/tap_guide.hpp"
#include "counterspot/placement/stock.hpp"
#include "files/text_file.hpp"

namespace counterspot {

namespace {

namespace fs = std::filesystem;

constexpr double bytes_per_GiB = 1024.0 * 1024.0 * 1024.0;
constexpr std::int64_t day_s = 86400;

Said same_words(const std::string& name) {
  return {name, name};
}

class Doctor {
 public:
  explicit Doctor(const DoctorAsked& asked) : asked_(asked) {}

  std::vector<Examined> all() {
    shop();
    rig();
    shafts();
    stock();
    source();
    disk();
    log();
    clock();
    lettering();
    return std::move(all_);
  }

 private:
  std::string stated(const std::string& key) const {
    const auto found = std::ranges::find(asked_.shop, key, &ShopValue::key);
    return found == asked_.shop.end() ? "" : found->value;
  }
  void add(const std::string& part, Health health, Said found, Said mend = {}) {
    all_.push_back({part, health, std::move(found), std::move(mend)});
  }
  /// What `look` throws is what is to be mended.
  template <typename Look>
  void examine_part(const std::string& part, const Look& look) {
    try {
      look();
    } catch (const Error& error) {
      all_.push_back({part, Health::to_mend, {}, {}, error});
    }
  }
  /// One that lies in the future shows that the clock is behind.
  void remember(const fs::path& file) {
    struct stat status {};
    if (::stat(file.c_str(), &status) == 0) written_.push_back({file.string(), status.st_mtime, files_may_differ_s});
  }

  void shop() {
    if (asked_.shop_trouble) {
      all_.push_back({"shop", Health::to_mend, {}, {}, asked_.shop_trouble});
    } else if (asked_.shop.empty()) {
      add("shop", Health::noted, said({"none are stated", "keine sind angegeben"}));
    } else {
      std::string keys;
      for (const ShopValue& value : asked_.shop) keys += (keys.empty() ? "" : ", ") + value.key;
      add("shop", Health::well, same_words(keys));
    }
  }

  void rig() {
    const std::string file = stated("rig");
    if (file.empty())
      return add("rig", Health::to_mend, said({"no rig is stated", "keine Auswuchtbank ist angegeben"}),
                 said({"set one up with 'counterspot rig new', or name its file with 'counterspot shop rig rig.toml'",
                       "Mit 'counterspot rig new' einrichten, oder ihre Datei mit 'counterspot shop rig rig.toml' "
                       "nennen"}));
    examine_part("rig", [&] {
      rig_ = read_rig(file);
      remember(file);
      add("rig", Health::well,
          said({"{}: {}, {} sensors", "{}: {}, {} Aufnehmer"}, file, rig_->name, rig_->sensors.size()));
    });
  }

  void shafts() {
    const std::string folder = stated("shafts");
    if (folder.empty()) return add("shafts", Health::noted, said({"no folder is stated", "kein Ordner ist angegeben"}));
    std::error_code unseen;
    if (!fs::is_directory(folder, unseen))
      return add("shafts", Health::to_mend, said({"{} is no folder", "{} ist kein Ordner"}, folder),
                 said({"make it, or name another with 'counterspot shop shafts FOLDER'",
                       "Ihn anlegen, oder einen anderen mit 'counterspot shop shafts ORDNER' nennen"}));
    for (const auto& entry : fs::directory_iterator(folder, unseen)) {
      if (entry.path().extension() != ".toml" || !is_shaft_file(entry.path())) continue;
      examine_part("shafts", [&] {
        shafts_.push_back(read_shaft(entry.path()));
        remember(entry.path());
      });
    }
    add("shafts", shafts_.empty() ? Health::noted : Health::well,
        said({"{}: shafts that can be read: {}", "{}: lesbare Wellen: {}"}, folder, shafts_.size()));
  }
  /// The shop's own other files may lie beside them.
  bool is_shaft_file(const fs::path& file) const {
    std::error_code unseen;
    return file.filename() != "shop.toml" && std::ranges::none_of(asked_.shop, [&](const ShopValue& value) {
             return is_shop_path(value.key, value.value) && fs::equivalent(file, value.value, unseen);
           });
  }

  void stock() {
    const std::string file = stated("stock");
    if (file.empty()) return add("stock", Health::noted, said({"no stock is stated", "kein Vorrat ist angegeben"}));
    examine_part("stock", [&] {
      const Stock stock = read_stock_text(text_of_file(file), file);
      remember(file);
      add("stock", Health::well,
          said({"{}: {} kinds of pieces", "{}: {} Arten von Stücken"}, file, stock.kinds.size()));
      std::optional<Error> trouble;
      std::size_t refused = 0;
      for (const Shaft& shaft : shafts_) {
        try {
          read_stock(file, shaft);
        } catch (const Error& error) {
          trouble = error;
          ++refused;
        }
      }
      if (refused > 0)  // rules for the planes of another family of shafts are no fault
        all_.push_back({"stock", refused == shafts_.size() ? Health::to_mend : Health::noted, {}, {}, trouble});
    });
  }

  void source() {
    if (asked_.source.empty())
      return add("source", Health::noted, said({"no source is stated", "keine Quelle ist angegeben"}));
    for (Examined& each : examine_source(asked_.source, asked_.live, rig_, asked_.seconds))
      all_.push_back(std::move(each));
  }

  void disk() {
    std::vector<fs::path> folders = {fs::path(stated("recordings").empty() ? "." : stated("recordings"))};
    if (log_is_file()) folders.push_back(fs::path(asked_.log).parent_path());
    std::vector<std::pair<std::uintmax_t, dev_t>> seen;
    for (const fs::path& folder : folders) {
      const fs::path there = nearest_there(folder);
      std::error_code trouble;
      const fs::space_info space = fs::space(there, trouble);
      struct stat status {};
      if (trouble || ::stat(there.c_str(), &status) != 0) continue;
      const std::pair of{space.capacity, status.st_dev};
      if (std::ranges::find(seen, of) != seen.end()) continue;
      seen.push_back(of);
      all_.push_back(disk_as_found(there, space.available));
    }
    const std::string recordings = stated("recordings");
    if (!recordings.empty()) writable("recordings", recordings);
  }

  bool log_is_file() const { return !asked_.log.empty() && !asked_.log.starts_with("postgresql://"); }
  static fs::path nearest_there(fs::path folder) {
    std::error_code unseen;
    folder = fs::absolute(folder, unseen).lexically_normal();
    while (!fs::exists(folder, unseen) && folder.has_parent_path() && folder != folder.parent_path())
      folder = folder.parent_path();
    return folder;
  }
  /// Can files be made in this folder, which may still have to be made itself?
  bool writable(const std::string& part, const fs::path& folder) {
    const fs::path there = nearest_there(folder);
    std::error_code unseen;
    if (fs::is_directory(there, unseen) && ::access(there.c_str(), W_OK | X_OK) == 0) return true;
    add(part, Health::to_mend, said({"{} cannot be written to", "in {} kann nicht geschrieben werden"}, there.string()),
        said({"give yourself the right to write there, or choose another place with 'counterspot shop {} …'",
              "Sich dort das Recht zu schreiben geben, oder mit 'counterspot shop {} …' einen anderen Ort wählen"},
             part));
    return false;
  }

  void log() {
    if (asked_.log.empty()) return add("log", Health::noted, said({"no log is stated", "kein Logbuch ist angegeben"}));
    std::error_code unseen;
    if (log_is_file()) {
      if (!writable("log", fs::path(asked_.log).parent_path())) return;
      if (!fs::exists(asked_.log, unseen))
        return add("log", Health::noted,
                   said({"{}: made with the first job", "{}: entsteht mit dem ersten Auftrag"}, asked_.log));
      if (::access(asked_.log.c_str(), W_OK) != 0)
        return add("log", Health::to_mend,
                   said({"{} cannot be written", "{} kann nicht geschrieben werden"}, asked_.log),
                   said({"give yourself the right to write it", "Sich das Recht geben, es zu schreiben"}));
    }
    examine_part("log", [&] { look_into(Log::open_to_read(asked_.log)); });
  }

  void look_into(const Log& log) {
    const CheckReport report = log.check();
    if (report.faults.empty())
      add("log", Health::well, said({"{}: sound, {} jobs", "{}: in Ordnung, {} Aufträge"}, asked_.log, report.jobs));
    else
      add("log", Health::to_mend,
          said({"{}: it has {} faults", "{}: es hat {} Fehler"}, asked_.log, report.faults.size()),
          said({"'counterspot log check' names them; go back to the last backup",
                "'counterspot log check' nennt sie; auf die letzte Sicherung zurückgehen"}));
    for (const JobOverview& newest : log.list({}, 0, 1)) {
      const Job job = log.job(newest.name);
      written_.push_back({newest.name, job.events.empty() ? job.opened_unix_s : job.events.back().at_unix_s});
    }
    const auto records = log.rig_records("", "");
    if (!records.empty()) written_.push_back({records.back().rig, records.back().at_unix_s});
    if (!rig_) return;
    examine_part("qualification", [&] { proved(standing_of(log, *rig_, asked_.now_unix_s)); });
  }

  void proved(const RigStanding& standing) {
    if (standing.last_failed)
      add("qualification", Health::to_mend, said({"the last one was not passed", "die letzte wurde nicht bestanden"}),
          said({"mend what failed, as 'counterspot rig show' names it, and qualify the rig again",
                "Beheben, was 'counterspot rig show' nennt, und die Eignungsprüfung wiederholen"}));
    else if (standing.overdue)
      add("qualification", Health::to_mend,
          said({"it was due on {}", "sie war am {} fällig"}, utc_day(*standing.due_unix_s)),
          said({"qualify the rig again: 'counterspot rig qualify'",
                "Die Eignungsprüfung wiederholen: 'counterspot rig qualify'"}));
    else if (standing.qualified_unix_s)
      add("qualification", Health::well,
          said({"passed {} days ago, due on {}", "vor {} Tagen bestanden, fällig am {}"},
               (asked_.now_unix_s - *standing.qualified_unix_s) / day_s, utc_day(*standing.due_unix_s)));
    else
      add("qualification", Health::noted,
          said({"the rig was never qualified: 'counterspot rig qualify'",
                "die Eignung wurde nie geprüft: 'counterspot rig qualify'"}));
    checked(standing);
    if (standing.taps) knocked(standing);
  }

  void checked(const RigStanding& standing) {
    if (!standing.checked_unix_s)
      return add("daily_check", Health::noted,
                 said({"none was made: 'counterspot rig check'", "keine gemacht: 'counterspot rig check'"}));
    const Said when = same_words(utc_minute(*standing.checked_unix_s));
    if (standing.check_speaks_against())
      return add("daily_check", Health::to_mend,
                 said({"the last, {}, was outside", "die letzte, {}, war außerhalb"}, when),
                 said({"mend what failed, and check again before any shaft: 'counterspot rig check'",
                       "Beheben, was sie nennt, und vor jeder Welle nochmals prüfen: 'counterspot rig check'"}));
    if (standing.check_within == false)
      return add("daily_check", Health::noted,
                 said({"the last, {}, was outside; the rig was qualified since",
                       "die letzte, {}, war außerhalb; die Eignung wurde seither nachgewiesen"},
                      when));
    add("daily_check", in_last_day(*standing.checked_unix_s, asked_.now_unix_s) ? Health::well : Health::noted,
        said({"the last, {}, was within{}", "die letzte, {}, war innerhalb{}"}, when,
             in_last_day(*standing.checked_unix_s, asked_.now_unix_s)
                 ? Said{}
                 : said({"; none in the last 24 hours", "; keine in den letzten 24 Stunden"})));
  }

  void knocked(const RigStanding& standing) {
    const KeptTaps& taps = *standing.taps;
    if (taps.at_unix_s < standing.sound_unix_s()) return;  // the reference shaft has spoken since
    const Said when = same_words(utc_minute(taps.at_unix_s));
    if (taps.within)
      return add("daily_check", in_last_day(taps.at_unix_s, asked_.now_unix_s) ? Health::well : Health::noted,
                 said({"by knocks, {}: as it was", "mit Schlägen, {}: wie zuvor"}, when));
    add("daily_check", Health::to_mend,
        said({"by knocks, {}: not as it was: {}", "mit Schlägen, {}: nicht wie zuvor: {}"}, when, taps.against),
        said({"mend what it named, and check again before any shaft: 'counterspot rig check'",
              "Beheben, was sie nannte, und vor jeder Welle nochmals prüfen: 'counterspot rig check'"}));
  }

  void clock() { all_.push_back(clock_as_found(asked_.now_unix_s, written_)); }

  void lettering() {
    if (asked_.no_lettering) {
      all_.push_back({"lettering", Health::to_mend, {}, {}, asked_.no_lettering});
    } else if (asked_.lettering == "osifont") {
      add("lettering", Health::well, same_words(asked_.lettering));
    } else {
      add("lettering", Health::to_mend,
          said({"pictures and sheets are lettered with '{}' instead of osifont: words may not fit",
                "Bilder und Protokolle sind mit '{}' statt osifont beschriftet: Wörter passen womöglich nicht"},
               asked_.lettering),
          said({"install the font: 'apt install fonts-osifont'",
                "Die Schrift installieren: 'apt install fonts-osifont'"}));
    }
  }

  const DoctorAsked& asked_;
  std::vector<Examined> all_;
  std::optional<Rig> rig_;
  std::vector<Shaft> shafts_;
  std::vector<Written> written_;
};

}  // namespace

std::string_view health_name(Health health) {
  switch (health) {
    case Health::well: return "well";
    case Health::noted: return "noted";
    case Health::to_mend: return "to_mend";
  }
  return "";
}

std::vector<Examined> examine(const DoctorAsked& asked) {
  return Doctor(asked).all();
}

bool has_to_mend(const std::vector<Examined>& all) {
  return std::ranges::any_of(all, [](const Examined& each) { return each.health == Health::to_mend; });
}

Examined disk_as_found(const fs::path& folder, std::uintmax_t free_bytes) {
  const Said found = said({"{}: {:.1f} GiB are free", "{}: {:.1f} GiB sind frei"}, folder.string(),
                          static_cast<double>(free_bytes) / bytes_per_GiB);
  if (free_bytes >= least_free_bytes) return {"disk", Health::well, found, {}};
  return {"disk", Health::to_mend, found,
          said({"make room: recordings of a day take about 1 GiB",
                "Platz schaffen: die Aufnahmen eines Tages brauchen etwa 1 GiB"})};
}

Examined clock_as_found(std::int64_t now_unix_s, const std::vector<Written>& written) {
  for (const Written& each : written) {
    if (each.at_unix_s <= now_unix_s + each.may_differ_s) continue;
    return {"clock", Health::to_mend,
            said({"it says {}, and {} was written on {}", "sie sagt {}, und {} wurde am {} geschrieben"},
                 utc_minute(now_unix_s), each.what, utc_minute(each.at_unix_s)),
            said({"set this machine's clock: log and sheets are dated by it",
                  "Die Uhr dieses Rechners stellen: Logbuch und Protokolle tragen ihre Zeit"})};
  }
  return {"clock", Health::well, same_words(utc_minute(now_unix_s)), {}};
}

}  // namespace counterspot
