#pragma once

#include <string_view>

namespace counterspot {

/// The page's files, compiled in.
extern const std::string_view page_html;
extern const std::string_view page_css;
extern const std::string_view page_js;
extern const std::string_view page_order;
extern const std::string_view page_curves;
extern const std::string_view page_fit;
extern const std::string_view page_practice;
extern const std::string_view page_watch;
extern const std::string_view page_signals;
extern const std::string_view page_faces;
extern const std::string_view page_rig_new_html;  ///< of a rig that has no file yet
extern const std::string_view page_rig_new_css;
extern const std::string_view page_rig_new;
extern const std::string_view page_stock;
extern const std::string_view page_stock_css;
extern const std::string_view page_course;
extern const std::string_view page_rig;
extern const std::string_view page_actions;
extern const std::string_view page_words_en;
extern const std::string_view page_words_de;

}  // namespace counterspot
