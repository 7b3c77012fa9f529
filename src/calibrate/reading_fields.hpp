/// The fields of readings and the facts of a record: one line each, from which files, CSV tables, options and questions
/// are made, so that none lets in what another refuses. A new field needs its member in hairline/record.hpp and its
/// line here (formats/resin-record.md and its schema list the same ranges; a test holds them together).
#pragma once
#include <array>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <variant>

#include "../base/fields.hpp"
#include "hairline/record_edit.hpp"

namespace hairline {

enum class Holds : std::uint8_t { number, whole, word, date, text };

/// What a field is for when readings of one exposure meet.
enum class Role : std::uint8_t {
  print,   ///< names the print: readings that agree in these are of one coupon
  size,    ///< a size read off it
  seen,    ///< anything else seen on it
  manner,  ///< how the sizes were read
  note     ///< says nothing of the print
};

struct FieldRule {
  const char* key;       ///< in a file (full stops lead into objects), and the column of CSV
  const char* option;    ///< "": there is none
  const char* value;     ///< what its value is called in help; "": a flag that says the field's one word
  const char* question;  ///< in help, on the sheet, and asked
  Holds holds = Holds::number;
  Range range{};
  std::span<const char* const> words{};
  Role role = Role::note;
  bool required = false;
  const char* letter = "";  ///< of its place on the reading sheet, where it is asked; "": it is not
  bool in_layers = false;   ///< whole numbers without a unit are layers
  bool several = false;     ///< may be read in several directions: the mean counts, their spread is the error
};

/// A number (of a word: its place among the words) or a text; none where the field is left out.
using FieldValue = std::optional<std::variant<double, std::string>>;

/// Whether two exposures, or other numbers of readings, are one but for the last digits: of one print then.
bool same_number(double a, double b);

template <class Owner>
struct Field : FieldRule {
  FieldValue (*get)(const Owner&);
  void (*set)(Owner&, const FieldValue&);  ///< the value must fit the rule
};

/// One kind of reading: its name and list in a record, and its fields.
template <class Reading>
struct ReadingKind {
  const char* name;
  std::vector<Reading> ResinRecord::*list;
  std::span<const Field<Reading>> fields;
};

/// "a number over 0 and up to 5 mm", "one of lifted, held, welded", "a date as YYYY-MM-DD"
std::string expected(const FieldRule& rule);
/// A cell, an option's value or an answer; none where it does not fit. With a layer height layers are taken too.
FieldValue value_from(const FieldRule& rule, const std::string& text, double layer_height_mm = 0);
/// A value as it is written in an option: "0.08", "crisp"; "" for none.
std::string text_of(const FieldRule& rule, const FieldValue& value);
/// Text as a message quotes it, with what is wrong with its unit.
std::string quoted(const FieldRule& rule, const std::string& text);
/// What is wrong with a text for a field of this record, "" where nothing is.
std::string misfit(const FieldRule& rule, const std::string& text, const ResinRecord& record);
/// The same of an answer, which may be empty; what a look means is told with the words, on lines of their own.
std::string answer_misfit(const FieldRule& rule, const std::string& text, const ResinRecord& record);

inline constexpr const char* look_words[]{"missing", "under", "slightly-under", "crisp", "slightly-over", "over"};
/// What each means on a coupon (common practice, no source).
inline constexpr const char* look_meanings[]{
    "it fell off, or hardly anything stands",         "thin walls and pins mostly gone, edges soft",
    "the thinnest parts gone, the rest sharp",        "sharp; walls and slots lost at about one width",
    "the narrowest slots closed, walls a little fat", "many slots and holes closed, edges swollen"};
inline constexpr const char* base_words[]{"lifted", "held", "welded"};
inline constexpr const char* ladder_words[]{"R10"};

/// How the tables are written down, and the tables.
namespace table {

template <class Owner, class Member>
Owner owner_of(Member Owner::*);

template <auto First, auto... Rest>
constexpr auto& member(auto& owner) {
  if constexpr (sizeof...(Rest) == 0)
    return owner.*First;
  else
    return member<Rest...>(owner.*First);
}

template <class T>
FieldValue value_of(const T& x) {
  if constexpr (std::is_same_v<T, std::string>)
    return x.empty() ? std::nullopt : FieldValue(x);
  else if constexpr (std::is_same_v<T, bool>)
    return x ? FieldValue(0.0) : std::nullopt;
  else if constexpr (requires { x.has_value(); })
    return x ? value_of(*x) : std::nullopt;
  else
    return static_cast<double>(x);
}

template <class T>
void take(T& x, const FieldValue& value) {
  const double* number = value ? std::get_if<double>(&*value) : nullptr;
  if constexpr (std::is_same_v<T, std::string>)
    x = value && !number ? *std::get_if<std::string>(&*value) : "";
  else if constexpr (std::is_same_v<T, bool>)
    x = value.has_value();
  else if constexpr (requires { x.has_value(); })
    x = number ? T(static_cast<typename T::value_type>(*number)) : T();
  else
    x = static_cast<T>(number ? *number : 0);
}

/// The field that is this member, or this member of a member.
template <auto First, auto... Rest>
constexpr auto field(const FieldRule& rule) {
  using Owner = decltype(owner_of(First));
  return Field<Owner>{rule, [](const Owner& owner) { return value_of(member<First, Rest...>(owner)); },
                      [](Owner& owner, const FieldValue& value) { take(member<First, Rest...>(owner), value); }};
}

constexpr FieldRule required(FieldRule rule) {
  rule.required = true;
  return rule;
}
constexpr FieldRule asked(const char* letter, FieldRule rule) {
  rule.letter = letter;
  return rule;
}
constexpr FieldRule several(FieldRule rule) {
  rule.several = true;
  return rule;
}
constexpr FieldRule in_layers(FieldRule rule) {
  rule.in_layers = true;
  return rule;
}
constexpr FieldRule number(const char* key, const char* option, const char* value, const char* question, Range range,
                           Role role = Role::note) {
  return {key, option, value, question, Holds::number, range, {}, role};
}
constexpr FieldRule size(const char* letter, const char* key, const char* option, const char* question) {
  return asked(letter, number(key, option, "MM", question, {0, 5, true, "mm"}, Role::size));
}
constexpr FieldRule width(const char* key, const char* option, const char* question) {
  return number(key, option, "MM", question, {0, 100, true, "mm"}, Role::size);
}
constexpr FieldRule word(const char* key, const char* option, const char* value, const char* question,
                         std::span<const char* const> words, Role role) {
  return {key, option, value, question, Holds::word, {}, words, role};
}
constexpr FieldRule text(const char* key, const char* option, const char* question) {
  return {key, option, "TEXT", question, Holds::text};
}
constexpr FieldRule date(const char* key, const char* option = "", const char* question = "") {
  return {key, option, "DATE", question, Holds::date};
}

// ---- the tables, in the order of the file

inline constexpr FieldRule coupon_exposure =
    asked("M", required(number("exposure_s", "--exposure", "S", "Normal exposure of the coupon, s",
                               {0, 3600, true, "s"}, Role::print)));

inline constexpr std::array bracket_fields{
    field<&BracketReading::exposure_s>(coupon_exposure),
    field<&BracketReading::thinnest_wall_mm>(
        several(size("A", "thinnest_wall_mm", "--wall", "Thinnest wall that stands, mm"))),
    field<&BracketReading::narrowest_slot_mm>(
        several(size("B", "narrowest_slot_mm", "--slot", "Narrowest upright slot still open, mm"))),
    field<&BracketReading::thinnest_pin_mm>(size("C", "thinnest_pin_mm", "--pin", "Thinnest pin that stands, mm")),
    field<&BracketReading::smallest_hole_mm>(size("D", "smallest_hole_mm", "--hole", "Smallest hole still open, mm")),
    field<&BracketReading::narrowest_flat_slot_mm>(in_layers(
        size("E", "narrowest_flat_slot_mm", "--flat-slot", "Lowest flat slot still open, layers (3) or mm (0.15)"))),
    field<&BracketReading::block_mm, &BracketReading::Width::printed>(
        asked("F", width("block_mm.printed", "--block", "Printed width over the block, by caliper, mm"))),
    field<&BracketReading::block_mm, &BracketReading::Width::drawn>(
        width("block_mm.drawn", "--block-drawn", "Its drawn width, mm (default 5, as on the coupon)")),
    field<&BracketReading::slot_mm, &BracketReading::Width::printed>(
        asked("G", width("slot_mm.printed", "--slot-width", "Printed width of the wide slot, by caliper, mm"))),
    field<&BracketReading::slot_mm, &BracketReading::Width::drawn>(
        width("slot_mm.drawn", "--slot-width-drawn", "Its drawn width, mm (default 2, as on the coupon)")),
    field<&BracketReading::look>(
        asked("L", word("look", "--look", "WORD", "Look: missing, under, slightly-under, crisp, slightly-over, over",
                        look_words, Role::seen))),
    field<&BracketReading::reading_error_mm>(number(
        "reading_error_mm", "--error", "MM", "Reading error, mm (default 0.01)", {0, 1, false, "mm"}, Role::manner)),
    field<&BracketReading::ladder>(word("ladder", "--ladder", "", "Sizes are steps of a ladder, not places on a wedge",
                                        ladder_words, Role::manner)),
    field<&BracketReading::date>(date("date"))};

/// The five sizes of a coupon.
inline constexpr std::span<const Field<BracketReading>> size_fields{bracket_fields.data() + 1, 5};

inline constexpr std::array cure_depth_fields{
    field<&CureDepthReading::exposure_s>(coupon_exposure),
    field<&CureDepthReading::depth_mm>(asked(
        "H", required(number("depth_mm", "--cure-depth", "MM", "Thickness of the thin bar by caliper (cure depth), mm",
                             {0, 5, true, "mm"}, Role::seen)))),
    field<&CureDepthReading::date>(date("date"))};

inline constexpr std::array base_fields{
    field<&BaseReading::base_s>(
        required(number("base_s", "--base", "S", "Base exposure, s", {0, 3600, true, "s"}, Role::print))),
    field<&BaseReading::layers>({"layers",
                                 "--base-layers",
                                 "N",
                                 "How many base layers",
                                 Holds::whole,
                                 {0, 1000, false, "layers"},
                                 {},
                                 Role::print}),
    field<&BaseReading::result>(
        required(word("result", "--base-result", "WORD", "lifted, held or welded", base_words, Role::seen))),
    field<&BaseReading::date>(date("date"))};

using Record = ResinRecord;
inline constexpr std::array fact_fields{
    field<&Record::resin, &Record::Resin::label>(text("resin.label", "--resin", "Label on the bottle")),
    field<&Record::resin, &Record::Resin::colour>(text("resin.colour", "--colour", "Colour")),
    field<&Record::resin, &Record::Resin::kind>(
        text("resin.kind", "--kind", "Kind of resin: standard, tough, castable, ...")),
    field<&Record::resin, &Record::Resin::batch>(text("resin.batch", "--batch", "Batch on the bottle")),
    field<&Record::resin, &Record::Resin::opened>(date("resin.opened", "--opened", "When the bottle was opened")),
    field<&Record::resin, &Record::Resin::density_g_per_ml>(
        number("resin.density_g_per_ml", "--density", "G/ML", "Density, g/ml", {0.1, 10, false, "g/ml"})),
    field<&Record::resin, &Record::Resin::price_per_l>(
        number("resin.price_per_l", "--price", "PRICE", "Price of a litre", {0, 1e6, false, "per litre"})),
    field<&Record::printer, &Record::Printer::label>(text("printer.label", "--printer", "Label of the printer")),
    field<&Record::printer, &Record::Printer::pitch_mm>(
        number("printer.pitch_mm", "--pitch", "MM", "Pixel pitch, mm", {0, 1, true, "mm"})),
    field<&Record::printer, &Record::Printer::lamp_power_percent>(number(
        "printer.lamp_power_percent", "--lamp-power", "PERCENT", "Lamp power, percent", {0, 100, true, "percent"})),
    field<&Record::printer, &Record::Printer::lamp_hours>(
        number("printer.lamp_hours", "--lamp-hours", "HOURS", "Hours the lamp has run", {0, 1e6, false, "h"})),
    field<&Record::printer, &Record::Printer::irradiance_mw_per_cm2>(
        number("printer.irradiance_mw_per_cm2", "--irradiance", "mW/cm2", "Irradiance at the screen, mW/cm2",
               {0, 1000, true, "mW/cm2"})),
    field<&Record::conditions, &Record::Conditions::date>(
        date("conditions.date", "--date", "Date of the record (default: today)")),
    field<&Record::conditions, &Record::Conditions::resin_temp_c>(
        number("conditions.resin_temp_c", "--temperature", "DEGREES", "Temperature of the resin, degrees C",
               {0, 100, false, "degrees C"})),
    field<&Record::conditions, &Record::Conditions::humidity_percent>(
        number("conditions.humidity_percent", "--humidity", "PERCENT", "Humidity of the air, percent",
               {0, 100, false, "percent"})),
    Field<Record>{number("layer_height_mm", "--height", "MM", "Layer height, mm (default 0.05)", {0, 1, true, "mm"}),
                  [](const Record& record) {
                    return record.layer_height_assumed ? std::nullopt : value_of(record.layer_height_mm);
                  },
                  [](Record& record, const FieldValue& value) {
                    record.layer_height_assumed = !value;
                    record.layer_height_mm = 0.05;
                    if (value) take(record.layer_height_mm, value);
                  }}};

}  // namespace table

/// Whether a fact is asked before the first coupon: resin, printer, pitch and layer height.
bool is_asked_first(const FieldRule& fact);
/// Pixel pitches and layer heights of which a coupon is drawn.
inline constexpr Range coupon_grid_mm{0.01, 0.2, false, "mm"};
/// The same fact as an evening takes it: a coupon is drawn of its pixel pitch and layer height.
FieldRule as_coupon_takes(FieldRule fact);

using table::bracket_fields, table::size_fields, table::cure_depth_fields, table::base_fields, table::fact_fields;

template <class Reading>
inline constexpr ReadingKind<Reading> kind_of;
template <>
inline constexpr ReadingKind<BracketReading> kind_of<BracketReading>{"bracket", &ResinRecord::bracket, bracket_fields};
template <>
inline constexpr ReadingKind<CureDepthReading> kind_of<CureDepthReading>{"cure_depth", &ResinRecord::cure_depth,
                                                                         cure_depth_fields};
template <>
inline constexpr ReadingKind<BaseReading> kind_of<BaseReading>{"base", &ResinRecord::base, base_fields};

/// The rules of all readings, each key once.
const std::vector<FieldRule>& reading_rules();
/// Those a person is asked for, in the order of the sheet; the look of the coupon comes last.
std::vector<FieldRule> asked_rules();

// ---- files

/// The value of a field in a file; what does not fit is an error kept by `from`.
FieldValue value_in(const Fields& from, const FieldRule& rule);
/// The entry as it is written: known fields updated inside `reading.source`, in JSON.
template <class Reading>
std::string entry_text(const Reading& reading);
/// Facts updated inside `document`.
void put_facts(nlohmann::ordered_json& document, const ResinRecord& record);

// ---- cells of CSV, options, answers

/// Texts by key; an empty one was not given.
using Cells = std::map<std::string, std::string, std::less<>>;
/// One reading: of the base where there is `base_s`, a cure depth where there is `depth_mm`, else a coupon. Fails with
/// invalid, without a file: what is left out or does not fit.
Result<AnyReading> reading_from(const Cells& cells);
/// Every reading that options or answers speak of: a coupon and a cure depth may share their exposure. Errors name the
/// options. The layer height is that of the record, for what is read in layers.
Result<std::vector<AnyReading>> readings_from_options(const Cells& cells, double layer_height_mm);

/// What a record holds of the coupons of one exposure, each by the last that says it; the exposure itself in any case.
Cells cells_at(const ResinRecord& record, double exposure_s);
/// The answers that these do not hold, with the exposure; empty where nothing is left.
Cells answers_beyond(const Cells& known, Cells answers);

/// What is wrong with a reading that did not come from a file, as an Error without a file: the first field out of
/// range, or a coupon of which nothing is said.
template <class Reading>
std::optional<Error> problem_of(const Reading& reading);

/// A record holds over `most_readings`, as an Error of limit.
std::optional<Error> too_many_readings(const ResinRecord& record);

/// Whether one of the five sizes was read; a caliper's widths are none of them.
bool has_sizes(const BracketReading& reading);
bool has_widths(const BracketReading& reading);
/// The key of a width that is left out although its other half was given; null where none is.
const char* lacking_width(const auto&) {
  return nullptr;
}
const char* lacking_width(const BracketReading& reading);
/// A size as a number, mm; none where it was not read.
std::optional<double> size_mm(const Field<BracketReading>& field, const BracketReading& reading);

}  // namespace hairline
