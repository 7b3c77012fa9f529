#include "hairline/flips.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <string>
#include <string_view>

#include "../archive/held_file.hpp"
#include "../base/deflate.hpp"
#include "../base/output_file.hpp"
#include "../risk/run_store.hpp"

namespace hairline {
namespace {

constexpr std::string_view magic = "HLflips\n";
constexpr std::uint32_t our_version = 1;
constexpr std::size_t head_bytes = 32, entry_bytes = 16, sum_bytes = 4;
constexpr std::uint32_t most_layer_bytes = 32u << 20, most_times = 255, most_layers = 1'000'000;
constexpr std::size_t least_run_bytes = 4;        // a byte for each of its numbers
constexpr std::uint64_t most_deflated_to = 1032;  // bytes that one byte stands for (RFC 1951)

// Of a layer in the index.
struct Entry {
  std::uint32_t packed_bytes = 0, raw_bytes = 0, sum = 0;
  std::uint8_t bonds_from = 0;
  bool known = true;
};

void put(std::string& out, std::uint64_t value, std::size_t bytes) {
  for (std::size_t i = 0; i < bytes; ++i) out += static_cast<char>(value >> (8 * i));
}

// Seven bits a byte, the lowest first; the last byte is under 128.
void put_short(std::string& out, std::uint32_t value) {
  for (; value >= 128; value >>= 7) out += static_cast<char>(value | 128);
  out += static_cast<char>(value);
}

// Takes numbers from bytes; asked for more than there is, it gives 0 and is bad from then on.
class Numbers {
 public:
  explicit Numbers(std::string_view bytes) : bytes_(bytes) {}
  std::uint64_t take(std::size_t bytes) {
    std::uint64_t value = 0;
    for (std::size_t i = 0; i < bytes; ++i) value |= std::uint64_t{next()} << (8 * i);
    return value;
  }
  std::uint32_t take_short() {
    std::uint64_t value = 0;
    for (int shift = 0;; shift += 7) {
      const std::uint8_t byte = next();
      value |= std::uint64_t{byte & 127u} << shift;
      if (byte < 128) break;
      if (shift == 28) bad_ = true;
      if (bad_) return 0;
    }
    bad_ = bad_ || value > UINT32_MAX;
    return bad_ ? 0 : static_cast<std::uint32_t>(value);
  }
  std::size_t left() const { return bytes_.size(); }
  bool bad() const { return bad_; }

 private:
  std::uint8_t next() {
    if (bytes_.empty()) {
      bad_ = true;
      return 0;
    }
    const auto byte = static_cast<std::uint8_t>(bytes_.front());
    bytes_.remove_prefix(1);
    return byte;
  }
  std::string_view bytes_;
  bool bad_ = false;
};

std::uint32_t sum_of(std::string_view bytes, std::uint32_t before = 0) {
  return libdeflate_crc32(before, bytes.data(), bytes.size());
}

std::string text_of(const FlipsHead& head) {
  std::string out(magic);
  for (const std::uint32_t value : {our_version, head.size.width_px, head.size.height_px, head.layer_count,
                                    static_cast<std::uint32_t>(head.times_s.size()), head.judged})
    put(out, value, 4);
  for (const double time_s : head.times_s) put(out, std::bit_cast<std::uint64_t>(time_s), 8);
  return out;
}

std::string text_of(const std::vector<Entry>& index) {
  std::string out;
  for (const Entry& entry : index) {
    put(out, entry.packed_bytes, 4), put(out, entry.raw_bytes, 4), put(out, entry.sum, 4);
    put(out, entry.bonds_from, 1), put(out, entry.known ? 1 : 0, 3);
  }
  return out;
}

// Adds runs to a layer's bytes: how many rows lie between a run and the one before, how many columns between it and the
// end of that one or the edge, its length, and from when it is cured.
class RunPacker {
 public:
  explicit RunPacker(std::string& out) : out_(out) {}
  void add(const FlipRun& run) {
    if (run.row == open_.row && run.begin == open_.end && run.cured_from == open_.cured_from) {
      open_.end = run.end;
      return;
    }
    close();
    open_ = run;
  }
  void close() {
    if (open_.begin == open_.end) return;
    put_short(out_, open_.row - row_);
    put_short(out_, open_.begin - (open_.row == row_ ? end_ : 0));
    put_short(out_, open_.end - open_.begin);
    out_ += static_cast<char>(open_.cured_from);
    row_ = open_.row, end_ = open_.end;
    open_ = {};
    ++count_;
  }
  std::uint32_t count() const { return count_; }

 private:
  std::string& out_;
  std::uint32_t count_ = 0;
  FlipRun open_;
  std::uint32_t row_ = 0, end_ = 0;
};

// What surely flips of a list, and not always or never; false: it takes too much.
bool pack_runs(const std::vector<CriticalRun>& runs, Fate fate, const std::vector<double>& times_s, std::string& out) {
  const std::size_t as_drawn = fate == Fate::vanish ? 0 : times_s.size();
  std::string packed;
  RunPacker packer(packed);
  for (const CriticalRun& run : runs) {
    if (out.size() + packed.size() > most_layer_bytes) return false;
    const std::uint8_t cured_from = risk::times_before(times_s, static_cast<double>(run.critical_s));
    if (cured_from != as_drawn) packer.add({run.row, run.begin, run.end, cured_from});
  }
  packer.close();
  put(out, packer.count(), 4);
  out += packed;
  return out.size() <= most_layer_bytes;
}

// The first time, by index, at which bulk of a layer bonds.
std::uint8_t bonds_from(const RiskContext& context, std::uint32_t number) {
  const PrintedLayer& printed = context.layers[number - 1];
  const double bond_s = bond_time_s(context.model, printed.height_mm);
  const auto first = std::find_if(context.times_s.begin(), context.times_s.end(),
                                  [&](double time_s) { return printed.time_s(time_s) >= bond_s; });
  return static_cast<std::uint8_t>(first - context.times_s.begin());
}

}  // namespace

FlipsHead flips_head(const RiskContext& context) {
  return {context.size, static_cast<std::uint32_t>(context.layers.size()), context.times_s,
          risk::times_before(context.times_s, context.exposure_s)};
}

struct FlipsWriter::State {
  OutputFile file;
  std::string head;
  std::vector<Entry> index;
  std::uint64_t bytes = 0, most_bytes = 0;
  Compressor tool = new_compressor(1);
  std::string packed;
};

FlipsWriter::FlipsWriter(std::unique_ptr<State> state) : state_(std::move(state)) {}
FlipsWriter::FlipsWriter(FlipsWriter&&) noexcept = default;
FlipsWriter& FlipsWriter::operator=(FlipsWriter&&) noexcept = default;
FlipsWriter::~FlipsWriter() = default;

Result<FlipsWriter> FlipsWriter::open(const std::filesystem::path& path, const FlipsHead& head,
                                      std::uint64_t most_bytes) {
  auto state = std::make_unique<State>();
  if (auto opened = state->file.open(path); !opened) return tl::unexpected(std::move(opened.error()));
  state->head = text_of(head);
  state->index.resize(head.layer_count);
  state->bytes = state->head.size() + entry_bytes * head.layer_count + sum_bytes;
  state->most_bytes = most_bytes;
  if (auto written = state->file.write(state->head); !written) return tl::unexpected(std::move(written.error()));
  return FlipsWriter(std::move(state));
}

Result<void> FlipsWriter::add(const CriticalLayer& layer, const RiskContext& context) {
  State& s = *state_;
  Entry& entry = s.index[layer.layer - 1];
  const std::vector<double> times_s = risk::times_of_layer(context, layer.layer);
  entry.bonds_from = bonds_from(context, layer.layer);
  std::string raw;
  entry.known = pack_runs(layer.vanish, Fate::vanish, times_s, raw) && pack_runs(layer.fuse, Fate::fuse, times_s, raw);
  if (!entry.known || raw.size() == 2 * 4) return {};  // nothing flips
  s.packed.resize(libdeflate_deflate_compress_bound(s.tool.get(), raw.size()));
  s.packed.resize(libdeflate_deflate_compress(s.tool.get(), raw.data(), raw.size(), s.packed.data(), s.packed.size()));
  entry.known = s.bytes + s.packed.size() <= s.most_bytes;
  if (!entry.known) return {};
  entry.packed_bytes = static_cast<std::uint32_t>(s.packed.size());
  entry.raw_bytes = static_cast<std::uint32_t>(raw.size());
  entry.sum = sum_of(s.packed);
  s.bytes += s.packed.size();
  return s.file.write(s.packed);
}

Result<void> FlipsWriter::finish() {
  const std::string index = text_of(state_->index);
  std::string end = index;
  put(end, sum_of(index, sum_of(state_->head)), sum_bytes);
  return state_->file.write(end).and_then([&] { return state_->file.finish(); });
}

struct Flips::State {
  State(archive::HeldFile held, std::string path) : file(std::move(held)), name(std::move(path)) {}
  archive::HeldFile file;
  std::string name;
  FlipsHead head;
  std::vector<Entry> index;
  std::vector<std::uint64_t> places;  // of each layer

  tl::unexpected<Error> fault(ErrorKind kind, std::string found, std::string expected) const {
    return tl::unexpected(
        Error{kind, name, std::move(found), std::move(expected), "Remove the file, and check the job again."});
  }
  tl::unexpected<Error> broken(std::string found) const {
    return fault(ErrorKind::broken, std::move(found), "what a check of this job wrote");
  }
  Result<std::string> read(std::uint64_t at, std::size_t bytes) const;
  Result<void> read_head();
  Result<void> read_index(const std::string& head_text);
  Result<std::string> inflated(std::uint32_t number) const;
  bool take_runs(Numbers& numbers, std::vector<FlipRun>& runs) const;
};

Result<std::string> Flips::State::read(std::uint64_t at, std::size_t bytes) const {
  if (file.mark().bytes < at + bytes) return broken("the file is cut off");
  std::string out(bytes, '\0');
  const std::int64_t got = file.read(at, out.data(), bytes);
  if (got < 0) return fault(ErrorKind::unreadable, "it cannot be read", "a disk that gives back what was written");
  if (static_cast<std::size_t>(got) != bytes) return broken("the file was cut off");
  return out;
}

Result<void> Flips::State::read_head() {
  auto text = read(0, head_bytes);
  if (!text) return tl::unexpected(std::move(text.error()));
  if (!text->starts_with(magic)) return broken("it begins otherwise");
  Numbers numbers(std::string_view(*text).substr(magic.size()));
  const auto next = [&] { return static_cast<std::uint32_t>(numbers.take(4)); };
  if (const std::uint32_t version = next(); version != our_version)
    return fault(ErrorKind::version, "its version is " + std::to_string(version), std::to_string(our_version));
  head.size.width_px = next(), head.size.height_px = next(), head.layer_count = next();
  const std::uint32_t times = next();
  head.judged = next();
  if (head.layer_count > most_layers || times > most_times || head.judged >= std::max(times, 1u))
    return broken("its head is wrong");
  auto times_text = read(head_bytes, 8 * times);
  if (!times_text) return tl::unexpected(std::move(times_text.error()));
  Numbers values(*times_text);
  for (double before_s = 0; values.left() > 0; before_s = head.times_s.back()) {
    head.times_s.push_back(std::bit_cast<double>(values.take(8)));
    if (!(head.times_s.back() > before_s) || !std::isfinite(head.times_s.back())) return broken("its times are none");
  }
  return read_index(*text + *times_text);
}

Result<void> Flips::State::read_index(const std::string& head_text) {
  const std::uint64_t end_bytes = std::uint64_t{entry_bytes} * head.layer_count + sum_bytes, all = file.mark().bytes;
  if (all < head_text.size() + end_bytes) return broken("the file is cut off");
  auto text = read(all - end_bytes, end_bytes);
  if (!text) return tl::unexpected(std::move(text.error()));
  const auto own = std::string_view(*text).substr(0, text->size() - sum_bytes);
  if (Numbers(std::string_view(*text).substr(own.size())).take(4) != sum_of(own, sum_of(head_text)))
    return broken("its checksum is wrong");
  Numbers numbers(own);
  const auto next = [&](std::size_t bytes) { return static_cast<std::uint32_t>(numbers.take(bytes)); };
  index.resize(head.layer_count), places.resize(head.layer_count);
  for (Entry& entry : index) {
    entry.packed_bytes = next(4), entry.raw_bytes = next(4), entry.sum = next(4);
    entry.bonds_from = static_cast<std::uint8_t>(next(1)), entry.known = next(3) != 0;
    if (entry.raw_bytes > std::min<std::uint64_t>(most_layer_bytes, most_deflated_to * entry.packed_bytes) ||
        entry.bonds_from > head.times_s.size())
      return broken("its index is wrong");
  }
  std::uint64_t place = head_text.size();
  for (std::size_t i = index.size(); i-- > 0; place += index[i].packed_bytes) places[i] = place;
  if (place + end_bytes != all) return broken("it has another length than its index says");
  return {};
}

Result<std::string> Flips::State::inflated(std::uint32_t number) const {
  const Entry& entry = index[number - 1];
  auto packed = read(places[number - 1], entry.packed_bytes);
  if (!packed) return packed;
  const Decompressor tool = new_decompressor();
  std::string raw(entry.raw_bytes, '\0');
  if (sum_of(*packed) != entry.sum ||
      libdeflate_deflate_decompress(tool.get(), packed->data(), packed->size(), raw.data(), raw.size(), nullptr) !=
          LIBDEFLATE_SUCCESS)
    return broken("the bytes of layer " + std::to_string(number) + " have changed");
  return raw;
}

// False: they are none of this layer.
bool Flips::State::take_runs(Numbers& numbers, std::vector<FlipRun>& runs) const {
  const std::uint64_t count = numbers.take(4);
  if (count * least_run_bytes > numbers.left()) return false;
  runs.reserve(count);
  std::uint64_t row = 0, end = 0;
  while (runs.size() < count) {
    const std::uint32_t rows_down = numbers.take_short();
    row += rows_down;
    const std::uint64_t begin = (rows_down == 0 ? end : 0) + std::uint64_t{numbers.take_short()};
    end = begin + numbers.take_short();
    const auto cured_from = static_cast<std::uint8_t>(numbers.take(1));
    if (numbers.bad() || row >= head.size.height_px || begin == end || end > head.size.width_px ||
        cured_from > head.times_s.size())
      return false;
    runs.push_back({static_cast<std::uint32_t>(row), static_cast<std::uint32_t>(begin), static_cast<std::uint32_t>(end),
                    cured_from});
  }
  return !numbers.bad();
}

Result<Flips> Flips::open(const std::filesystem::path& path) {
  auto file = archive::HeldFile::open(path);
  if (!file) return tl::unexpected(std::move(file.error()));
  const auto state = std::make_shared<State>(std::move(*file), path.string());
  if (auto read = state->read_head(); !read) return tl::unexpected(std::move(read.error()));
  return Flips(state);
}

const FlipsHead& Flips::head() const {
  return state_->head;
}

Result<LayerFlips> Flips::layer(std::uint32_t number) const {
  const State& s = *state_;
  if (number == 0 || number > s.head.layer_count)
    return s.fault(ErrorKind::invalid, "there is no layer " + std::to_string(number),
                   "1 to " + std::to_string(s.head.layer_count));
  LayerFlips out;
  out.known = s.index[number - 1].known;
  out.bonds_from = s.index[number - 1].bonds_from;
  if (s.index[number - 1].raw_bytes == 0) return out;
  const auto raw = s.inflated(number);
  if (!raw) return tl::unexpected(raw.error());
  Numbers numbers(*raw);
  for (std::vector<FlipRun>* runs : {&out.vanish, &out.fuse})
    if (!s.take_runs(numbers, *runs)) return s.broken("layer " + std::to_string(number) + " has impossible places");
  if (numbers.left() > 0) return s.broken("layer " + std::to_string(number) + " has more than its places");
  return out;
}

}  // namespace hairline
