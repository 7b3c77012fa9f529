// Jobs dropped on the page: written aside as they come, and given their name when they are whole.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <fstream>

#include "../base/ascii.hpp"
#include "../base/output_file.hpp"
#include "jobs.hpp"
#include "json.hpp"

namespace hairline::desk {
namespace {

namespace fs = std::filesystem;

constexpr int most_at_once = 2;

// One of the uploads that run, or one too many.
class Turn {
 public:
  explicit Turn(std::atomic<int>& running) : running_(running), granted_(++running <= most_at_once) {}
  ~Turn() { --running_; }
  Turn(const Turn&) = delete;
  Turn& operator=(const Turn&) = delete;
  bool granted() const { return granted_; }

 private:
  std::atomic<int>& running_;
  bool granted_;
};

// The rest of a body that nobody wants; the connection ends with it.
Answer refused_unread(const Call& call, const Answer& answer) {
  call.read_body([](std::string_view) { return false; });
  return answer;
}

bool same_bytes(const fs::path& a, const fs::path& b) {
  std::error_code error;
  if (!fs::is_regular_file(a, error) || fs::file_size(a, error) != fs::file_size(b, error) || error) return false;
  std::ifstream one(a, std::ios::binary), other(b, std::ios::binary);
  std::array<char, 1 << 16> bytes, others;
  while (one && other) {
    one.read(bytes.data(), bytes.size());
    other.read(others.data(), others.size());
    if (one.gcount() != other.gcount()) return false;
    if (!std::equal(bytes.begin(), bytes.begin() + one.gcount(), others.begin())) return false;
  }
  return one.eof() && other.eof();
}

bool is_archive_name(const std::string& name) {
  const std::string small = small_letters(name);
  return small.ends_with(".zip") || small.ends_with(".3mf");
}

Error too_long(const std::string& name, std::uint64_t most_bytes) {
  return {ErrorKind::limit, name, "it is too long", fmt::format("at most {} MB", most_bytes / 1'000'000),
          "Put it into the folder by hand, and open this page again."};
}

// Takes the body into `output`; what went wrong is the person's to read. So the rest is taken even where it cannot be
// written: a browser that is cut off while it sends shows no answer.
Result<void> take_body(const Call& call, const std::string& name, std::uint64_t most_bytes, OutputFile& output) {
  Result<void> written;
  std::uint64_t bytes = 0;
  const bool whole = call.read_body([&](std::string_view part) {
    bytes += part.size();
    if (bytes > most_bytes) written = tl::unexpected(too_long(name, most_bytes));
    if (written) written = output.write(part);
    return bytes <= most_bytes;
  });
  if (written && !whole)
    return tl::unexpected(Error{ErrorKind::broken, name, "it ended early", "all of it", "Drop it again."});
  return written;
}

struct Kept {
  std::string name;
  bool known = false;  // the same job was there already
};

// Under its own name, or the next that is free; the same bytes under such a name are the same job.
Result<Kept> keep(const Folder& folder, const std::string& name, OutputFile& output) {
  if (std::fflush(output.file()) == 0) {
    const auto there = folder.namesakes(name);
    if (!there) return tl::unexpected(there.error());
    for (const fs::path& one : *there)
      if (same_bytes(one, output.aside())) return Kept{one.filename().string(), true};
  }
  for (;;) {
    const auto place = folder.place_for(name);
    if (!place) return tl::unexpected(place.error());
    const auto kept = output.finish_as(*place);
    if (!kept) return tl::unexpected(kept.error());
    if (*kept) return Kept{place->filename().string(), false};
  }
}

Answer take_upload(const Shared& shared, const Call& call) {
  const std::string name = call.asked("name");
  const auto place = shared.folder.place_for(name);
  if (!place) return refused_unread(call, refusal(place.error()));
  if (!is_archive_name(place->filename().string()))
    return refused_unread(call, refusal(Error{ErrorKind::usage, name, "this is no file of a job by its name",
                                              "a name that ends in .zip or .3mf",
                                              "If it is such an archive under another name, rename it."}));
  OutputFile output;
  if (const auto opened = output.open(*place); !opened) return refused_unread(call, refusal(opened.error()));
  if (const auto taken = take_body(call, name, shared.settings.most_upload_bytes, output); !taken)
    return refusal(taken.error());
  const auto kept = keep(shared.folder, name, output);
  if (!kept) return refusal(kept.error());
  return json_answer({{"name", kept->name}, {"known", kept->known}});
}

}  // namespace

void add_upload_routes(Routes& routes, Shared& shared) {
  const auto running = std::make_shared<std::atomic<int>>(0);
  const auto upload = [&shared, running](const Call& call) {
    const Turn turn(*running);
    if (turn.granted()) return take_upload(shared, call);
    return refused_unread(call, refusal(503, "Two files are on their way already. Wait for one."));
  };
  routes.push_back({"POST", "/api/upload", upload, false, Route::Body::streamed});
}

}  // namespace hairline::desk
