#pragma once

#include <memory>
#include <mutex>
#include <optional>
#include <string>

#include "counterspot/model/rig.hpp"
#include "counterspot/model/shaft.hpp"

namespace counterspot {

/// A file that a person wrote, as it was when a job was opened with it. What it says (a `Rig` or a `Shaft`) is read
/// from its text at most once, at the first asking, for all copies together; any thread may ask.
template <typename Value>
class Kept {
 public:
  Kept() = default;
  Kept(std::string path, std::string text) : file_(std::make_shared<File>(std::move(path), std::move(text))) {}

  const std::string& path() const { return file_->path; }
  const std::string& text() const { return file_->text; }
  /// Lives as long as any copy. @throws Error as `read_rig_text`, `kept_shaft`.
  const Value& value() const {
    const std::lock_guard lock(file_->mutex);
    if (!file_->value) file_->value = read(file_->text, file_->path);
    return *file_->value;
  }

 private:
  struct File {
    File() = default;
    File(std::string of_path, std::string of_text) : path(std::move(of_path)), text(std::move(of_text)) {}
    std::string path, text;
    std::mutex mutex;
    std::optional<Value> value;
  };
  static Value read(const std::string& text, const std::string& path);

  std::shared_ptr<File> file_ = std::make_shared<File>();
};

template <>
Rig Kept<Rig>::read(const std::string& text, const std::string& path);
template <>
Shaft Kept<Shaft>::read(const std::string& text, const std::string& path);

}  // namespace counterspot
