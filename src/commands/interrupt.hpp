#pragma once

namespace counterspot::commands {

/// From now on Ctrl-C and SIGTERM do not end the program, but are told by `interrupted`.
void heed_interrupts();
bool interrupted();

}  // namespace counterspot::commands
