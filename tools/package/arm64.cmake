# How Debian's toolchain builds for arm64 on another machine, and how what it built is run there: CMAKE_TOOLCHAIN_FILE.
set(CMAKE_SYSTEM_NAME Linux)
set(CMAKE_SYSTEM_PROCESSOR aarch64)
set(CMAKE_C_COMPILER aarch64-linux-gnu-gcc)
set(CMAKE_CXX_COMPILER aarch64-linux-gnu-g++)
set(CMAKE_CXX_FLAGS_INIT -Wno-psabi)  # GCC's note of what changed between two of its own older releases
set(CMAKE_CROSSCOMPILING_EMULATOR qemu-aarch64-static)
set(PKG_CONFIG_EXECUTABLE aarch64-linux-gnu-pkg-config)
set(CPACK_DEBIAN_PACKAGE_ARCHITECTURE arm64)
