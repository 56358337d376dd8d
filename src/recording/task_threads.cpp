#include "recording/task_threads.hpp"

#include <utility>

namespace counterspot {

TaskThreads::~TaskThreads() {
  {
    const std::scoped_lock lock(mutex_);
    over_ = true;
  }
  changed_.notify_all();
}

std::future<void> TaskThreads::begin(std::function<void()> task) {
  std::packaged_task<void()> packaged(std::move(task));
  std::future<void> done = packaged.get_future();
  {
    const std::scoped_lock lock(mutex_);
    waiting_.push_back(std::move(packaged));
    if (waiting_.size() > free_ && threads_.size() < most_) threads_.emplace_back([this] { work(); });
  }
  changed_.notify_one();
  return done;
}

/// What one thread does.
void TaskThreads::work() {
  std::unique_lock lock(mutex_);
  while (!over_) {
    if (waiting_.empty()) {
      ++free_;
      changed_.wait(lock, [this] { return over_ || !waiting_.empty(); });
      --free_;
      continue;
    }
    std::packaged_task<void()> task = std::move(waiting_.front());
    waiting_.pop_front();
    lock.unlock();
    task();
    lock.lock();
  }
}

}  // namespace counterspot
