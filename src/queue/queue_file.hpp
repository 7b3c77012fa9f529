/// A queue file as it stands, before what it leaves out is filled in.
#pragma once
#include "hairline/night.hpp"

namespace hairline::queue {

/// As read_queue, but without printers where it names none, and with an empty zone where it states none.
Result<Queue> read_file(const std::filesystem::path& path);

/// Fails with limit where it has more printers or prints than a queue may have; `file` is named then.
Result<void> check_bounds(const Queue& queue, const std::string& file);

/// Fills these in: one printer without label and limits; the zone of this machine.
Queue completed(Queue queue);

/// Whether ready_by is after start, where both are set; an empty zone is that of this machine.
bool in_order(const QueueTimes& times);

}  // namespace hairline::queue
