# Writes which commit is built into HEADER, if that changed: cmake -DSOURCE=… -DHEADER=… -P tools/commit.cmake
execute_process(COMMAND git rev-parse --short=12 HEAD WORKING_DIRECTORY ${SOURCE} OUTPUT_VARIABLE commit RESULT_VARIABLE none
                OUTPUT_STRIP_TRAILING_WHITESPACE ERROR_QUIET)
if(none)
  set(commit "")
else()
  execute_process(COMMAND git status --porcelain --untracked-files=no WORKING_DIRECTORY ${SOURCE} OUTPUT_VARIABLE changes ERROR_QUIET)
  if(changes)
    string(APPEND commit " and changes")
  endif()
endif()
file(CONFIGURE OUTPUT ${HEADER} CONTENT [[#pragma once

namespace counterspot {

/// Empty: not known, as of a source that is no clone.
inline constexpr const char* commit = "@commit@";

}  // namespace counterspot
]] @ONLY)
