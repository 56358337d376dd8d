#include "drawing/ink/archive.hpp"

#include <glib.h>
#include <nettle/sha2.h>

#include <array>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <memory>
#include <string_view>

#include "counterspot/units/error.hpp"
#include "drawing/ink/colour_profile.hpp"

namespace counterspot {

namespace {

std::string in_xmp(const std::string& text) {
  const std::unique_ptr<char, decltype(&g_free)> safe(
      g_markup_escape_text(text.data(), static_cast<gssize>(text.size())), &g_free);
  return safe.get();
}

/// A text of a PDF, in UTF-16 and hexadecimal digits (ISO 32000-1, 7.9.2.2).
std::string in_pdf(const std::string& text) {
  glong units = 0;
  const std::unique_ptr<gunichar2, decltype(&g_free)> wide(
      g_utf8_to_utf16(text.data(), static_cast<glong>(text.size()), nullptr, &units, nullptr), &g_free);
  std::string digits = "<FEFF";
  std::array<char, 8> unit{};
  for (glong i = 0; wide != nullptr && i < units; ++i) {
    std::snprintf(unit.data(), unit.size(), "%04X", static_cast<unsigned>(wide.get()[i]));
    digits += unit.data();
  }
  return digits + ">";
}

std::string reference(std::size_t object) {
  return std::to_string(object) + " 0 R";
}

std::string stream(const std::string& entries, const std::string& bytes) {
  return "<< " + entries + " /Length " + std::to_string(bytes.size()) + " >>\nstream\n" + bytes + "\nendstream";
}

/// An object with entries put at the head of its dictionary.
std::string with_entries(std::string_view object, const std::string& entries) {
  return "<< " + entries + std::string(object.substr(object.find("<<") + 2));
}

/// Objects that are added to a PDF, or stand in the place of others.
class Update {
 public:
  explicit Update(std::string& pdf)
      : pdf_(pdf), table_at_(number_behind("\nstartxref\n")), count_(number_behind("\nxref\n0 ")), added_(0) {}

  std::size_t count() const { return count_; }  ///< of objects that were there
  std::size_t root() const { return number_behind("/Root "); }

  /// As it was written, up to its end, or to that of a stream's dictionary.
  std::string_view object(std::size_t number) const {
    constexpr std::size_t entry = 20;
    const std::size_t entries_at = pdf_.find('\n', table_at_ + 5) + 1;
    const std::size_t at = std::strtoul(pdf_.c_str() + entries_at + entry * number, nullptr, 10);
    const std::size_t from = pdf_.find("obj\n", at) + 4;
    return std::string_view(pdf_).substr(from,
                                         std::min(pdf_.find("\nendobj", from), pdf_.find("\nstream", from)) - from);
  }

  bool has(std::string_view words) const { return pdf_.find(words) != std::string::npos; }
  /// Behind the last of these words.
  std::size_t number_behind(std::string_view words) const {
    const std::size_t at = pdf_.rfind(words);
    if (at != std::string::npos) return std::strtoul(pdf_.c_str() + at + words.size(), nullptr, 10);
    throw Error(Trouble::machine, "drawing_failed", "this Cairo writes a PDF otherwise than 1.16 does",
                "use the Cairo of Debian 12, or ask for .svg");
  }

  void put(std::size_t number, std::string object) { objects_[number] = std::move(object); }
  std::size_t add(std::string object) {
    put(count_ + added_, std::move(object));
    return count_ + added_++;
  }

  /// @param identifier hexadecimal digits.
  void write(const std::string& identifier) const {
    const std::size_t info = number_behind("/Info ");
    const std::size_t root_object = root();
    std::string table = "xref\n";
    for (const auto& [number, object] : objects_) {
      std::array<char, 24> entry{};
      std::snprintf(entry.data(), entry.size(), "%010zu 00000 n \n", pdf_.size());
      table += std::to_string(number) + " 1\n" + entry.data();
      pdf_ += std::to_string(number) + " 0 obj\n" + object + "\nendobj\n";
    }
    const std::string at = std::to_string(pdf_.size());
    pdf_ += table + "trailer\n<< /Size " + std::to_string(count_ + added_) + " /Root " + reference(root_object) +
            " /Info " + reference(info) + " /Prev " + std::to_string(table_at_) + " /ID [<" + identifier + "> <" +
            identifier + ">] >>\nstartxref\n" + at + "\n%%EOF\n";
  }

 private:
  std::string& pdf_;
  std::size_t table_at_;
  std::size_t count_;
  std::size_t added_;
  std::map<std::size_t, std::string> objects_;
};

/// Equal documents have equal ones. ISO 32000-1, 14.4.
std::string identifier_of(const std::string& pdf) {
  sha256_ctx state;
  std::array<std::uint8_t, 16> digest{};
  sha256_init(&state);
  sha256_update(&state, pdf.size(), reinterpret_cast<const std::uint8_t*>(pdf.data()));
  sha256_digest(&state, digest.size(), digest.data());
  std::string digits;
  std::array<char, 4> pair{};
  for (const unsigned byte : digest) {
    std::snprintf(pair.data(), pair.size(), "%02X", byte);
    digits += pair.data();
  }
  return digits;
}

/// In one language, said to be everybody's.
std::string said_once(const std::string& name, const std::string& text) {
  return "<" + name + "><rdf:Alt><rdf:li xml:lang=\"x-default\">" + in_xmp(text) + "</rdf:li></rdf:Alt></" + name +
         ">\n";
}

/// ISO 16684-1; what the document's information dictionary says too, alike.
std::string metadata(const ArchiveFacts& facts) {
  return "<?xpacket begin=\"\xEF\xBB\xBF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n"
         "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\"><rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n"
         "<rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" "
         "xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\" xmlns:pdfaid=\"http://www.aiim.org/pdfa/ns/id/\">\n"
         "<pdfaid:part>2</pdfaid:part><pdfaid:conformance>U</pdfaid:conformance>\n" +
         said_once("dc:title", facts.title) +
         (facts.description.empty() ? "" : said_once("dc:description", facts.description)) +
         (facts.language.empty()
              ? ""
              : "<dc:language><rdf:Bag><rdf:li>" + in_xmp(facts.language) + "</rdf:li></rdf:Bag></dc:language>\n") +
         "<xmp:CreatorTool>" + archive_creator + "</xmp:CreatorTool><xmp:CreateDate>" + facts.time +
         "</xmp:CreateDate><xmp:ModifyDate>" + facts.time +
         "</xmp:ModifyDate>\n</rdf:Description></rdf:RDF></x:xmpmeta>\n<?xpacket end=\"r\"?>";
}

/// Puts one element for the whole document above all tags, as ISO 32000-1, 14.8.4.2 has it. @return its number.
std::size_t add_document(Update& update, std::size_t tree) {
  std::string object(update.object(tree));
  const std::size_t from = object.find("/K ") + 3;
  const std::size_t length = object.find('\n', from) - from;
  const std::size_t document = update.add("<< /Type /StructElem /S /Document /P " + reference(tree) + " /K " +
                                          object.substr(from, length) + " >>");
  update.put(tree, object.replace(from, length, reference(document)));
  return document;
}

/// What Cairo does not say of an object: which element is above it, what a figure shows, and that a composite font's
/// glyphs are numbered as in its file (ISO 19005-2, 6.2.11.3.2).
class Completion {
 public:
  Completion(const ArchiveFacts& facts, std::size_t tree, std::size_t document)
      : facts_(facts), of_tree_("/P " + reference(tree)), of_document_("/P " + reference(document)) {}

  /// Objects in their order.
  std::string of(std::string_view object) {
    const auto has = [&](std::string_view words) { return object.find(words) != std::string_view::npos; };
    std::string completed(object);
    if (has("/Type /StructElem") && has(of_tree_))
      completed.replace(completed.find(of_tree_), of_tree_.size(), of_document_);
    if (has("/Type /StructElem") && has("/S /Figure") && figure_ < facts_.figures.size())
      completed = with_entries(completed, "/Alt " + in_pdf(facts_.figures[figure_++]));
    if (has("/Subtype /CIDFontType2") && !has("/CIDToGIDMap"))
      completed = with_entries(completed, "/CIDToGIDMap /Identity");
    return completed;
  }

 private:
  const ArchiveFacts& facts_;
  std::string of_tree_;
  std::string of_document_;
  std::size_t figure_ = 0;
};

void complete_objects(Update& update, const ArchiveFacts& facts) {
  if (!update.has("/StructTreeRoot ")) return;  // nothing is drawn
  const std::size_t tree = update.number_behind("/StructTreeRoot ");
  Completion completion(facts, tree, add_document(update, tree));
  for (std::size_t number = 1; number < update.count(); ++number) {
    const std::string_view object = update.object(number);
    std::string completed = completion.of(object);
    if (completed != object) update.put(number, std::move(completed));
  }
}

}  // namespace

void make_archive(std::string& pdf, const ArchiveFacts& facts) {
  const std::string identifier = identifier_of(pdf);
  Update update(pdf);
  complete_objects(update, facts);
  const std::size_t xmp = update.add(stream("/Type /Metadata /Subtype /XML", metadata(facts)));
  const std::size_t profile = update.add(stream("/N 3", srgb_profile()));
  std::string entries = "/Metadata " + reference(xmp) +
                        " /OutputIntents [<< /Type /OutputIntent /S /GTS_PDFA1 /OutputConditionIdentifier (sRGB)"
                        " /Info (sRGB, IEC 61966-2-1) /DestOutputProfile " +
                        reference(profile) + " >>] /ViewerPreferences << /DisplayDocTitle true >>";
  if (update.object(update.root()).find("/MarkInfo") == std::string_view::npos)
    entries += " /MarkInfo << /Marked true >>";
  if (!facts.language.empty()) entries += " /Lang " + in_pdf(facts.language);
  update.put(update.root(), with_entries(update.object(update.root()), entries));
  update.write(identifier);
}

}  // namespace counterspot
