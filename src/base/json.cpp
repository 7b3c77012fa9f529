// JSON texts to values, in time that grows as the text does however many members an object has.
#include "json.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <numeric>
#include <span>
#include <vector>

#include "hairline/files.hpp"

namespace hairline {
namespace {

using Json = nlohmann::ordered_json;

// Of members with one name the last value stays, in the place of the first.
void join_namesakes(Json::object_t& object) {
  const std::span members(object.data(), object.size());
  std::vector<std::size_t> order(members.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::vector<std::size_t> place = order;
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return members[a].first < members[b].first; });
  bool any = false;
  for (std::size_t i = 1; i < order.size(); ++i) {
    if (members[order[i - 1]].first != members[order[i]].first) continue;
    place[order[i]] = place[order[i - 1]];
    members[place[order[i]]].second = std::move(members[order[i]].second);
    any = true;
  }
  if (!any) return;
  Json::object_t kept;
  for (std::size_t i = 0; i < members.size(); ++i)
    if (place[i] == i) kept.emplace_back(members[i].first, std::move(members[i].second));
  object = std::move(kept);
}

// Takes what the parser meets. Its own reader of documents looks through all earlier members for each new one.
class Builder : public nlohmann::json_sax<Json> {
 public:
  explicit Builder(Json& value) : value_(value) {}

  bool null() override { return put(nullptr); }
  bool boolean(bool x) override { return put(x); }
  bool number_integer(std::int64_t x) override { return put(x); }
  bool number_unsigned(std::uint64_t x) override { return put(x); }
  bool number_float(double x, const std::string&) override { return put(x); }
  bool string(std::string& x) override { return put(std::move(x)); }
  bool binary(Json::binary_t&) override { return false; }  // there is none in a text
  bool start_object(std::size_t) override { return open(Json::object()); }
  bool start_array(std::size_t) override { return open(Json::array()); }
  bool end_array() override { return close(); }
  bool key(std::string& name) override {
    open_.back()->get_ref<Json::object_t&>().emplace_back(std::move(name), nullptr);
    return true;
  }
  bool end_object() override {
    join_namesakes(open_.back()->get_ref<Json::object_t&>());
    return close();
  }
  bool parse_error(std::size_t byte, const std::string&, const Json::exception& error) override {
    constexpr int out_of_range = 406;
    problem = {error.id == out_of_range ? JsonFault::number : JsonFault::syntax, byte};
    return false;
  }

  JsonProblem problem;

 private:
  Json* place(Json value) {
    if (open_.empty()) {
      value_ = std::move(value);
      return &value_;
    }
    Json& parent = *open_.back();
    if (parent.is_array()) return &parent.get_ref<Json::array_t&>().emplace_back(std::move(value));
    Json& member = parent.get_ref<Json::object_t&>().back().second;
    member = std::move(value);
    return &member;
  }
  bool put(Json value) {
    if (++values_ > most_values) return stop(JsonFault::large);
    place(std::move(value));
    return true;
  }
  bool open(Json empty) {
    if (open_.size() == most_nesting) return stop(JsonFault::deep);
    if (++values_ > most_values) return stop(JsonFault::large);
    open_.push_back(place(std::move(empty)));
    return true;
  }
  bool close() {
    open_.pop_back();
    return true;
  }
  bool stop(JsonFault fault) {
    problem.fault = fault;
    return false;
  }

  Json& value_;
  std::vector<Json*> open_;  // a list or object grows only while all within it are closed
  std::size_t values_ = 0;
};

}  // namespace

std::string json_text(const Json& value, int indent) {
  return value.dump(indent, ' ', false, Json::error_handler_t::replace);
}

JsonProblem parse_json(std::string_view text, Json& value) {
  Builder builder(value);
  if (!Json::sax_parse(text, &builder) && builder.problem.fault == JsonFault::none)
    builder.problem.fault = JsonFault::syntax;
  // The parser takes a NUL for the end of the text.
  if (const std::size_t nul = text.find('\0'); builder.problem.fault == JsonFault::none && nul != text.npos)
    builder.problem = {JsonFault::syntax, nul + 1};
  if (builder.problem.fault != JsonFault::none) value = Json(Json::value_t::discarded);
  return builder.problem;
}

Json json_in(std::string_view text) {
  Json value;
  parse_json(text, value);
  return value;
}

Json object_in(const std::string& text) {
  Json value = json_in(text);
  return value.is_object() ? value : Json::object();
}

}  // namespace hairline
