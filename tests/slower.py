"""How many times longer than else what is timed may take here: more than once under the thread sanitizer, see CMakeLists.txt."""
import os

SLOWER = float(os.environ.get("COUNTERSPOT_SLOWER", "1"))
