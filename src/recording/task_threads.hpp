#pragma once

#include <condition_variable>
#include <cstddef>
#include <deque>
#include <functional>
#include <future>
#include <mutex>
#include <thread>
#include <vector>

namespace counterspot {

/// Threads that do tasks in the order they come. They are kept from one task to the next: to start one takes as long as
/// a good part of a task. Tasks that have not begun when it is destroyed are not done.
class TaskThreads {
 public:
  /// @param most threads; one is started when a task comes and none is free.
  explicit TaskThreads(std::size_t most) : most_(most) {}
  ~TaskThreads();
  TaskThreads(const TaskThreads&) = delete;
  TaskThreads& operator=(const TaskThreads&) = delete;
  TaskThreads(TaskThreads&&) = delete;
  TaskThreads& operator=(TaskThreads&&) = delete;

  /// @return is ready when the task is done, and throws what it threw.
  std::future<void> begin(std::function<void()> task);

 private:
  void work();

  std::size_t most_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<std::packaged_task<void()>> waiting_;
  std::size_t free_ = 0;  ///< threads that have nothing to do
  bool over_ = false;
  std::vector<std::jthread> threads_;  // last: end before what they use
};

}  // namespace counterspot
