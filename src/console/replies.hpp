#pragma once

#include <functional>
#include <string>

#include "console/page_words.hpp"
#include "console/service.hpp"
#include "counterspot/drawing/drawing.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

/// How the page's services answer, and read what is asked.

Reply reply_of(const Json& document, int status = 200);
/// What is meant is said in the viewer's language.
Reply reply_of(const Error& error, int status, const Words& words = english());
/// What an answer throws is an answer too.
Reply answered(const Words& words, const std::function<Reply()>& answer);
/// In words; empty if there was none.
Said trouble_in(const std::function<void()>& work);

std::string drawn(const Picture& picture, Theme theme);

std::string text_in(const Parameters& parameters, const std::string& name);
double size_in(const Parameters& parameters, const std::string& name);  ///< 0: no number
int number_in(const Parameters& parameters, const std::string& name);   ///< -1: no number
Theme theme_in(const Parameters& parameters);

}  // namespace counterspot
