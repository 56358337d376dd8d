#include "recording/task_threads.hpp"

#include <atomic>
#include <catch2/catch.hpp>
#include <chrono>
#include <memory>
#include <mutex>
#include <set>
#include <stdexcept>
#include <vector>

using namespace counterspot;

TEST_CASE("One thread does its tasks in the order they came") {
  std::vector<int> done;
  std::vector<std::future<void>> futures;
  TaskThreads threads(1);
  for (int n = 0; n < 100; ++n) futures.push_back(threads.begin([&done, n] { done.push_back(n); }));
  futures.back().get();
  for (int n = 0; n < 100; ++n) CHECK(done[static_cast<std::size_t>(n)] == n);
}

TEST_CASE("Tasks are done by no more threads than were allowed, and a thread is kept for the next task") {
  std::mutex mutex;
  std::set<std::thread::id> seen;
  std::vector<std::future<void>> futures;
  TaskThreads threads(3);
  for (int n = 0; n < 200; ++n) {
    futures.push_back(threads.begin([&] {
      const std::scoped_lock lock(mutex);
      seen.insert(std::this_thread::get_id());
    }));
  }
  for (auto& future : futures) future.get();
  CHECK(seen.size() <= 3);
  CHECK(seen.count(std::this_thread::get_id()) == 0);
}

TEST_CASE("What a task throws is thrown to the one who waits for it, and the thread goes on") {
  TaskThreads threads(1);
  auto bad = threads.begin([] { throw std::runtime_error("a fault"); });
  bool done = false;
  auto good = threads.begin([&done] { done = true; });
  CHECK_THROWS_WITH(bad.get(), "a fault");
  good.get();
  CHECK(done);
}

TEST_CASE("Two tasks that wait for each other are done at once") {
  std::promise<void> first;
  std::promise<void> second;
  const auto comes = [](std::promise<void>& promise) {
    return promise.get_future().wait_for(std::chrono::seconds(20)) == std::future_status::ready;
  };
  bool second_came = false;
  bool first_came = false;
  TaskThreads threads(2);
  auto one = threads.begin([&] {
    first.set_value();
    second_came = comes(second);
  });
  auto other = threads.begin([&] {
    first_came = comes(first);
    second.set_value();
  });
  one.get();
  other.get();
  CHECK(second_came);
  CHECK(first_came);
}

TEST_CASE("A task that has not begun when nobody wants it any more is not done, and the one at work is waited for") {
  std::atomic<int> done = 0;
  std::promise<void> begun;
  std::promise<void> go;
  auto threads = std::make_unique<TaskThreads>(1);
  auto at_work = threads->begin([&] {
    begun.set_value();
    go.get_future().get();
    ++done;
  });
  auto waiting = threads->begin([&done] { ++done; });
  begun.get_future().get();
  const std::jthread later([&go] {
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
    go.set_value();
  });
  threads.reset();
  CHECK(done == 1);
  at_work.get();
  CHECK_THROWS_AS(waiting.get(), std::future_error);
}
