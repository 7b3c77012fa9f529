// A text in an archive of another program: the description drafted from it is one that is read.
#include "hairline/describe.hpp"
#include "target.hpp"

using namespace hairline;

namespace {

std::filesystem::path foreign_job() {
  const std::filesystem::path path = fuzz::folder() / "ferry";
  for (const char* name : {"masks/1.png", "masks/2.png", "masks/3.png"}) {
    const auto png = encode_png(encode(std::vector<std::uint8_t>(200, 0), {20, 10}));
    fuzz::write_file(path / name, {reinterpret_cast<const char*>(png.data()), png.size()});
  }
  return path;
}

}  // namespace

void hairline::fuzz::run(std::string_view input) {
  static const std::filesystem::path path = foreign_job();
  write_file(path / "settings", input);
  const auto draft = draft_description(path);
  if (!draft) return expect_told(draft.error());
  expect(draft->masks.count == 3, "the masks are found beside any text");
  const std::string written = write_description(draft->description);
  const auto again = parse_description(written, "draft.json");
  expect(again && write_description(*again) == written, "written and read again it is the same");
}
