#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>

#include "report/file_reference.hpp"
#include "units/unit_table.hpp"

namespace counterspot {

namespace {

/// A unit's spellings as a regular expression, as `plain_spelling` takes them.
std::string unit_pattern(std::string_view spelling) {
  std::string pattern;
  for (const char c : spelling) {
    if (c == '*') {
      pattern += "[\\s*·⋅×.-]+";
    } else if (c == '/') {
      pattern += "\\s*/\\s*";
    } else if (c == '2') {
      pattern += "(2|²|\\^2)";
    } else if (c == '3') {
      pattern += "(3|³|\\^3)";
    } else if (c == 'u') {
      pattern += "[uµμ]";
    } else {
      pattern += c;
    }
  }
  return pattern;
}

std::string units_pattern(Dimension dimension) {
  std::vector<std::string> units;
  for (const std::string_view spelling : unit_spellings(dimension)) units.push_back(unit_pattern(spelling));
  if (dimension == Dimension::length) units.emplace_back("\"");
  return fmt::format("({})", fmt::join(units, "|"));
}

/// A quantity with its unit, without the ends of the text.
std::string quantity_pattern(const FileKey& key) {
  const std::string_view sign = key.range.least == 0.0 ? "\\+?" : "[+-]?";
  return fmt::format("\\s*{}([0-9]+([.,][0-9]*)?|[.,][0-9]+)([eE][+-]?[0-9]+)?\\s*{}\\s*", sign,
                     units_pattern(key.dimension));
}

Json text_like(const std::string& pattern) {
  return {{"type", "string"}, {"pattern", fmt::format("^{}$", pattern)}};
}

Json quantity_schema(const FileKey& key) {
  Json typed = text_like(quantity_pattern(key));
  if (key.dimension != Dimension::fraction) return typed;
  return {{"anyOf", {typed, {{"type", "number"}}}}};
}

Json whole_schema(const FileKey& key) {
  Json schema = {{"type", "integer"}};
  if (std::isfinite(key.range.least)) schema["minimum"] = static_cast<int>(key.range.least);
  if (std::isfinite(key.range.most)) schema["maximum"] = static_cast<int>(key.range.most);
  return schema;
}

Json bead_schema() {
  FileKey adds{.path = "bead", .dimension = Dimension::mass, .range = {0.0}};
  const std::string mass = quantity_pattern(adds);
  adds.dimension = Dimension::fraction;
  return text_like(fmt::format("({}|{})", mass, quantity_pattern(adds)));
}

Json value_schema(const FileKey& key) {
  const Json one_or_more = {{"type", "string"}, {"minLength", 1}};
  switch (key.form) {
    case Form::choice: return {{"enum", key.choices}};
    case Form::whole: return whole_schema(key);
    case Form::yes_or_no: return {{"type", "boolean"}};
    case Form::quantity: return quantity_schema(key);
    case Form::place: return text_like("(" + quantity_pattern(key) + "|\\s*[0-9]{1,2}:[0-9]{2}\\s*)");
    case Form::quantities: return {{"type", "array"}, {"items", quantity_schema(key)}};
    case Form::known_size: return text_like(quantity_pattern(key) + "((±|\\+-|\\+/-).+)?");
    case Form::bead: return bead_schema();
    case Form::level: return {{"anyOf", {quantity_schema(key), {{"type", "number"}}}}};
    case Form::channel: return {{"anyOf", {{{"type", "integer"}, {"minimum", 1}}, one_or_more}}};
    case Form::sensitivity: return text_like("([^/]*[0-9][^/]*V\\s*/.+)|(-?unknown)");
    case Form::vector: return text_like(".*[0-9].*@.*[0-9].*");
    case Form::amplitude: return text_like("[^@]*[0-9][^@]*");
    default: return key.needed ? one_or_more : Json{{"type", "string"}};
  }
}

/// A default or an example as TOML has it.
Json typed_value(const FileKey& key, std::string_view text) {
  if (key.form == Form::whole) return std::stoi(std::string(text));
  if (key.form == Form::yes_or_no) return text == "true";
  if (key.form == Form::channel && text.find_first_not_of("0123456789") == std::string_view::npos)
    return std::stoi(std::string(text));
  if (key.form == Form::quantities) return Json::parse(text);  // a list of texts is the same in both
  return text;
}

Json table_schema(FileKind kind, std::string_view within);

Json key_schema(FileKind kind, const FileKey& key) {
  const bool table = key.form == Form::table || key.form == Form::tables;
  Json schema = table ? table_schema(kind, key.path) : value_schema(key);
  if (key.form == Form::tables) schema = {{"type", "array"}, {"items", schema}};
  if (key.form == Form::tables && key.needed) schema["minItems"] = 1;
  schema["description"] = fmt::format("{} ({})", key.effect, terms_of(key));
  if (!key.standard.empty()) schema["default"] = typed_value(key, key.standard);
  if (!table) schema["examples"] = Json::array({typed_value(key, key.example)});
  return schema;
}

/// Nothing but its keys; of a table whose keys are names, what each of them takes.
Json table_schema(FileKind kind, std::string_view within) {
  Json schema = {{"type", "object"}, {"properties", Json::object()}, {"additionalProperties", false}};
  Json needed = Json::array();
  for (const FileKey* key : keys_within(kind, within)) {
    const Json one = key_schema(kind, *key);
    if (key->name() != "*") {
      schema["properties"][std::string(key->name())] = one;
      if (key->needed) needed.push_back(key->name());
    } else if (key->choices.empty()) {
      schema["additionalProperties"] = one;
    }
    if (key->name() == "*")
      for (const std::string_view name : key->choices) schema["properties"][std::string(name)] = one;
  }
  if (!needed.empty()) schema["required"] = needed;
  return schema;
}

}  // namespace

Json schema_of(FileKind kind) {
  Json schema = table_schema(kind, "");
  schema["$schema"] = "https://json-schema.org/draft/2020-12/schema";
  schema["title"] = about(kind).file;
  schema["description"] = about(kind).does;
  return schema;
}

}  // namespace counterspot
