#pragma once

#include <soci/soci.h>

#include <string>

namespace counterspot {

/// Every row of a query, in order. `bind` says what goes in and where a row is read into; `row` then takes it from
/// there.
template <typename Bind, typename Row>
void each_row(soci::session& sql, const std::string& query, Bind bind, Row row) {
  soci::statement statement(sql);
  bind(statement);
  statement.alloc();
  statement.prepare(query);
  statement.define_and_bind();
  statement.execute();
  while (statement.fetch()) row();
}

}  // namespace counterspot
