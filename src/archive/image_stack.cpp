// 3MF packages: the part that _rels/.rels names is the model; its one built object is a level set over an image stack.
//
// Sources, all of the 3MF Consortium: "Core" is the Core Specification 1.2.4 (ISO/IEC 25422), "Volumetric" the
// Volumetric and Implicit Extensions 0.8.0, "OPC" the Open Packaging Conventions (ECMA-376 part 2) they build on.
//
//     build space  <- item transform -  object space  - level set transform ->  UVW, the stack is the unit cube
//
//     V=1 back    row 0     +-----+        sheet k lies between W = k / sheetcount (below) and (k + 1) / sheetcount
//                           |  k  |        column j between U = j / columncount (left) and (j + 1) / columncount
//     V=0 front   last row  +-----+        (Volumetric 3.2: the voxel at the right, front and bottom of a grid of
//                         U=0    U=1        3 x 4 x 2 has row 2, column 3, sheet 0)
//
// y grows to the back (Core 3.1), so that a sheet as it stands is the plate seen from above: x right along the columns,
// rows down towards the front, as in a layer archive.
#include "image_stack.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <pugixml.hpp>
#include <sstream>

#include "../base/ascii.hpp"
#include "../base/numbers.hpp"
#include "../base/percent.hpp"
#include "families.hpp"
#include "foreign.hpp"
#include "hairline/files.hpp"

namespace hairline::archive {
namespace {

using Node = pugi::xml_node;
using Fault = tl::unexpected<Error>;

constexpr const char* core = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02";              // Core C.3
constexpr const char* volumetric = "http://schemas.3mf.io/3dmanufacturing/volumetric/2022/01";         // its C
constexpr const char* relationships = "http://schemas.openxmlformats.org/package/2006/relationships";  // OPC
constexpr const char* start_part = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel";     // Core C.2

// A model of 100 000 sheets has about 8 million bytes.
constexpr std::uint64_t most_model_bytes = 16u << 20;
constexpr int most_depth = 64;
constexpr std::ptrdiff_t most_attributes = 64;

// What errors name.
struct About {
  std::string file;
  Fault fault(ErrorKind kind, std::string found, std::string expected, std::string advice) const {
    return Fault(Error{kind, file, std::move(found), std::move(expected), std::move(advice)});
  }
  Fault unsupported(std::string found, std::string expected) const {
    return fault(ErrorKind::version, std::move(found), std::move(expected),
                 "Export the job as one image stack, or read the pictures as plain masks with --set "
                 "masks.files=NAMES, --pitch and --height.");
  }
  Fault invalid(std::string found, std::string expected) const {
    return fault(ErrorKind::invalid, std::move(found), std::move(expected), "Export the job again.");
  }
};

// ---- XML ----

// What a prefix stands for at a node (Namespaces in XML 1.0, 6).
std::string_view space_at(Node node, std::string_view prefix) {
  const std::string name = prefix.empty() ? "xmlns" : "xmlns:" + std::string(prefix);
  for (; node; node = node.parent())
    if (const auto declared = node.attribute(name.c_str())) return declared.value();
  return {};
}

bool is(Node node, const char* space, std::string_view local) {
  const std::string_view name = node.name();
  const std::size_t colon = name.find(':');
  const std::string_view prefix = colon == std::string_view::npos ? "" : name.substr(0, colon);
  if ((colon == std::string_view::npos ? name : name.substr(colon + 1)) != local) return false;
  return space_at(node, prefix) == space;
}

std::vector<Node> children(Node parent, const char* space, std::string_view local) {
  std::vector<Node> out;
  for (const Node child : parent.children())
    if (is(child, space, local)) out.push_back(child);
  return out;
}

Node first(Node parent, const char* space, std::string_view local) {
  const auto all = children(parent, space, local);
  return all.empty() ? Node() : all.front();
}

// Of the elements of a kind the one with an id; null where there is none.
Node with_id(const std::vector<Node>& nodes, const std::string& id) {
  const auto at = std::find_if(nodes.begin(), nodes.end(), [&](Node one) { return id == one.attribute("id").value(); });
  return id.empty() || at == nodes.end() ? Node() : *at;
}

// Depth and width that no model needs make looking slow.
struct Bounds : pugi::xml_tree_walker {
  bool kept = true, has_type = false;
  bool for_each(Node& node) override {
    has_type = has_type || node.type() == pugi::node_doctype;
    const auto attributes = node.attributes();
    kept = depth() < most_depth && std::distance(attributes.begin(), attributes.end()) <= most_attributes;
    return kept;
  }
};

// ---- packages ----

class Package {
 public:
  Package(const Store& store, const std::vector<Entry>& entries, About about, const Limits& limits)
      : store_(store), about_(std::move(about)), limits_(limits), entries_(entries) {
    for (const Entry& entry : entries_)
      if (!entry.folder) parts_.emplace(small_letters(entry.name), &entry);
  }
  const About& about() const { return about_; }
  const Limits& limits() const { return limits_; }
  const std::vector<Entry>& entries() const { return entries_; }

  // A part by its name, "/3D/a.model" (OPC 6.2.2: case does not count, %20 is a blank).
  Result<const Entry*> part(const std::string& name) const {
    const std::string plain = name.starts_with('/') ? name.substr(1) : name,
                      inside = percent_decoded(plain).value_or(plain);
    if (!stays_inside(inside))
      return about_.fault(ErrorKind::invalid, fmt::format("the 3MF package names a part \"{}\"", name),
                          "names that stay inside the package", "Do not trust this archive; ask where it comes from.");
    const auto at = parts_.find(small_letters(inside));
    if (at == parts_.end())
      return about_.fault(ErrorKind::not_found, fmt::format("the 3MF package has no part \"{}\"", name),
                          "every part that is named in it", "Export the job again.");
    return at->second;
  }

  // Without entities of its own, document types and other files (Core 2.3.2).
  Result<void> read_xml(const Entry& entry, pugi::xml_document& into) const {
    Limits limits = limits_;
    limits.manifest_bytes = most_model_bytes;
    const auto text = read_small(store_, entry, about_.file, limits);
    if (!text) return tl::unexpected(text.error());
    const auto parsed = into.load_buffer(text->data(), text->size(), pugi::parse_default | pugi::parse_doctype);
    const auto broken = [&](std::string found, std::string expected) {
      return about_.fault(ErrorKind::broken, fmt::format("\"{}\" in the 3MF package {}", entry.name, found),
                          std::move(expected), "Export the job again.");
    };
    if (!parsed) return broken(fmt::format("is not XML ({})", parsed.description()), "XML");
    Bounds bounds;
    into.traverse(bounds);
    if (bounds.has_type) return broken("declares a document type", "XML without one");
    if (!bounds.kept) return broken("is nested too deep or has too many attributes", "the model of one job");
    return {};
  }

  Result<Picture> picture(const Entry& entry, std::uint32_t layer) const {
    if (auto sound = check_entry(about_.file, {entry, layer}, limits_.entry_bytes, limits_); !sound)
      return tl::unexpected(std::move(sound.error()));
    std::vector<std::byte> head;
    if (auto read = store_.head(entry, picture_head_bytes, head); !read) return tl::unexpected(std::move(read.error()));
    const auto found = picture_of(head);
    if (found && found->alpha)  // is no part of red, green and blue, and would be laid over black
      return about_.unsupported(fmt::format("the sheet \"{}\" has an alpha channel", entry.name), "grey sheets");
    if (found) return *found;
    return Fault(Error{ErrorKind::broken, about_.file, fmt::format("\"{}\" is no PNG", entry.name),
                       "a sheet as PNG (Volumetric 3.2.1)", "Export the job again.", layer});
  }

 private:
  const Store& store_;
  About about_;
  const Limits& limits_;
  const std::vector<Entry>& entries_;
  std::map<std::string, const Entry*> parts_;
};

// The target of the StartPart relationship (Core 2.1.1); empty where this is a package of another kind.
std::string model_name(const pugi::xml_document& rels) {
  for (const Node one : children(first(rels, relationships, "Relationships"), relationships, "Relationship"))
    if (std::string_view(one.attribute("Type").value()) == start_part) return one.attribute("Target").value();
  return {};
}

// ---- the model ----

// Attributes without prefix that are not in the specification would be read as left out.
Result<void> know_attributes(const About& about, Node node, const std::vector<std::string_view>& known) {
  for (const auto& one : node.attributes()) {
    const std::string_view name = one.name();
    if (name.find(':') != std::string_view::npos || name == "xmlns") continue;
    if (std::find(known.begin(), known.end(), name) == known.end())
      return about.invalid(fmt::format("<{}> has an attribute \"{}\"", node.name(), name),
                           fmt::format("one of {}", fmt::join(known, ", ")));
  }
  return {};
}

// xs:double: blanks around it and a sign + are allowed.
std::optional<double> number_in(std::string_view text) {
  text = trimmed(text, " \t\r\n");
  return parse_number(std::string(text.starts_with('+') ? text.substr(1) : text));
}

Result<double> number_of(const About& about, Node node, const char* name, double otherwise) {
  const auto attribute = node.attribute(name);
  if (!attribute) return otherwise;
  const auto number = number_in(attribute.value());
  if (!number)
    return about.invalid(fmt::format("\"{}\" of <{}> is \"{}\"", name, node.name(), attribute.value()), "a number");
  return *number;
}

// Along each axis, to = scale * from + shift.
struct Axes {
  std::array<double, 3> scale{1, 1, 1}, shift{0, 0, 0};
};

// "m00 m01 m02 m10 ... m32": rows of what (x, y, z, 1) is multiplied by from the left (Core 3.3); left out: as it is.
Result<Axes> axes_of(const About& about, Node node) {
  Axes out;
  const auto attribute = node.attribute("transform");
  if (!attribute) return out;
  const std::string named = fmt::format("the transform of <{}> is \"{}\"", node.name(), attribute.value());
  std::istringstream words(attribute.value());
  std::vector<double> m;
  for (std::string word; words >> word;) {
    const auto number = number_in(word);
    if (!number) return about.invalid(named, "12 numbers");
    m.push_back(*number);
  }
  if (m.size() != 12) return about.invalid(named, "12 numbers");
  double most = 0, across = 0;
  for (std::size_t i = 0; i < 9; ++i)
    (i % 4 == 0 ? most : across) = std::max(i % 4 == 0 ? most : across, std::abs(m[i]));
  if (across > 1e-9 * most) return about.unsupported(named + ", which turns or shears", "an upright image stack");
  for (std::size_t axis = 0; axis < 3; ++axis) out.scale[axis] = m[4 * axis], out.shift[axis] = m[9 + axis];
  for (const double scale : out.scale) {
    if (scale == 0) return about.invalid(named + ", which flattens", "a scale above 0 along each axis");
    if (scale < 0) return about.unsupported(named + ", which mirrors", "an image stack that is not mirrored");
  }
  return out;
}

// Core 3.4, ST_Unit.
Result<double> unit_mm(const About& about, Node model) {
  static const std::map<std::string, double> units = {{"micron", 0.001}, {"millimeter", 1}, {"centimeter", 10},
                                                      {"inch", 25.4},    {"foot", 304.8},   {"meter", 1000}};
  const auto at = units.find(model.attribute("unit").as_string("millimeter"));
  if (at != units.end()) return at->second;
  return about.invalid(fmt::format("the model's unit is \"{}\"", model.attribute("unit").value()),
                       "micron, millimeter, centimeter, inch, foot or meter");
}

// What a model requires must be known (Core 2.3.1, 3.4).
Result<void> check_required(const About& about, Node model) {
  std::istringstream prefixes(model.attribute("requiredextensions").value());
  for (std::string prefix; prefixes >> prefix;)
    if (const auto space = space_at(model, prefix); space != volumetric)
      return about.unsupported(fmt::format("the 3MF model requires the extension \"{}\" ({})", prefix, space),
                               "at most the volumetric extension");
  return {};
}

using Point = std::array<double, 3>;

struct Box {
  Point low{INFINITY, INFINITY, INFINITY}, high{-INFINITY, -INFINITY, -INFINITY};
};

Result<std::vector<Point>> vertices_of(const About& about, Node mesh) {
  std::vector<Point> out;
  for (const Node one : children(first(mesh, core, "vertices"), core, "vertex")) {
    Point& point = out.emplace_back();
    for (std::size_t axis = 0; axis < 3; ++axis) {
      const auto number = number_of(about, one, std::array{"x", "y", "z"}[axis], NAN);
      if (!number) return tl::unexpected(number.error());
      point[axis] = *number;
    }
  }
  if (out.empty())
    return about.invalid("the mesh around the level set has no vertices", "a closed mesh (Volumetric 4)");
  return out;
}

// A mesh is its own bounding box where each triangle lies in a face of it and their areas are those of the faces.
bool fills(const Box& box, const std::vector<Point>& points, Node mesh) {
  double area = 0;
  for (const Node one : children(first(mesh, core, "triangles"), core, "triangle")) {
    std::array<Point, 3> corner;
    for (std::size_t i = 0; i < 3; ++i) {
      const auto index = one.attribute(std::array{"v1", "v2", "v3"}[i]).as_ullong(points.size());
      if (index >= points.size()) return false;
      corner[i] = points[index];
    }
    bool in_face = false;
    for (std::size_t axis = 0; axis < 3; ++axis)
      in_face = in_face || (corner[0][axis] == corner[1][axis] && corner[0][axis] == corner[2][axis] &&
                            (corner[0][axis] == box.low[axis] || corner[0][axis] == box.high[axis]));
    if (!in_face) return false;
    Point a, b;
    for (std::size_t k = 0; k < 3; ++k) a[k] = corner[1][k] - corner[0][k], b[k] = corner[2][k] - corner[0][k];
    area += std::hypot(a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]) / 2;
  }
  const double x = box.high[0] - box.low[0], y = box.high[1] - box.low[1], z = box.high[2] - box.low[2];
  return std::abs(area - 2 * (x * y + y * z + z * x)) <= 1e-6 * area;
}

struct Counts {
  std::array<std::uint32_t, 3> of;  // columns, rows, sheets
};

// A level set counts inside its mesh only (Volumetric 4.1.1), and outside the unit cube the stack is repeated or
// clamped (2.2): where the mesh is that cube, but for less than half a voxel, neither changes a voxel.
Result<void> check_bounds(const About& about, Node level_set, Node object, const Axes& to_uvw, const Counts& counts) {
  const Node mesh = first(object, core, "mesh");
  if (!mesh)
    return about.fault(ErrorKind::not_found,
                       fmt::format("the level set names a mesh \"{}\", which is no mesh of the model",
                                   level_set.attribute("meshid").value()),
                       "the closed mesh that bounds it (Volumetric 4.1.1)", "Export the job again.");
  const auto points = vertices_of(about, mesh);
  if (!points) return tl::unexpected(points.error());
  Box box;
  for (const Point& point : *points)
    for (std::size_t axis = 0; axis < 3; ++axis) {
      box.low[axis] = std::min(box.low[axis], point[axis]);
      box.high[axis] = std::max(box.high[axis], point[axis]);
    }
  if (!level_set.attribute("meshbboxonly").as_bool() && !fills(box, *points, mesh))
    return about.unsupported("the level set is cut by a mesh that is no upright box", "a box around the image stack");
  for (std::size_t axis = 0; axis < 3; ++axis) {
    const double low = to_uvw.scale[axis] * box.low[axis] + to_uvw.shift[axis];
    const double high = to_uvw.scale[axis] * box.high[axis] + to_uvw.shift[axis];
    const double half = 0.5 / counts.of[axis];
    if (!(std::abs(low) < half && std::abs(high - 1) < half))
      return about.fault(ErrorKind::mismatch,
                         fmt::format("the mesh around the level set reaches from {} = {:.6g} to {:.6g} of the image "
                                     "stack",
                                     "UVW"[axis], low, high),
                         "from 0 to 1, so that it neither cuts nor repeats the stack",
                         "Export the job with a box as large as its image stack.");
  }
  return {};
}

// ---- the stack ----

Result<Counts> counts_of(const About& about, Node stack, const Limits& limits) {
  Counts out;
  const std::array<const char*, 3> names{"columncount", "rowcount", "sheetcount"};
  for (std::size_t i = 0; i < 3; ++i) {
    const auto number = number_of(about, stack, names[i], 0);
    if (!number) return tl::unexpected(number.error());
    const double most = i < 2 ? limits.side_px : limits.layers;
    if (!(*number >= 1) || *number != std::floor(*number))
      return about.invalid(
          fmt::format("\"{}\" of the image stack is \"{}\"", names[i], stack.attribute(names[i]).value()),
          "a whole number of at least 1 (Volumetric 3.2)");
    if (*number > most)
      return about.fault(ErrorKind::limit, fmt::format("\"{}\" of the image stack is {}", names[i], *number),
                         fmt::format("at most {}", most), "Check that this is the right file.");
    out.of[i] = static_cast<std::uint32_t>(*number);
  }
  return out;
}

// In the order they stand (Volumetric 3.2), all of the stated size.
Result<void> read_sheets(const Package& package, Node stack, const Counts& counts, ImageStack& out) {
  const About& about = package.about();
  const auto sheets = children(stack, volumetric, "imagesheet");
  if (sheets.size() != counts.of[2])
    return about.fault(ErrorKind::mismatch, fmt::format("the image stack holds {} sheets", sheets.size()),
                       fmt::format("{}, as its \"sheetcount\" says", counts.of[2]), "Export the job again.");
  out.size = {counts.of[0], counts.of[1]};
  for (const Node sheet : sheets) {
    const auto layer = static_cast<std::uint32_t>(out.sheets.size() + 1);
    const auto part = package.part(sheet.attribute("path").value());
    auto picture = part ? package.picture(**part, layer) : Result<Picture>(tl::unexpected(part.error()));
    if (!picture) {
      picture.error().layer = layer;
      return tl::unexpected(std::move(picture.error()));
    }
    if (picture->size != out.size)
      return Fault(Error{
          ErrorKind::mismatch, about.file,
          fmt::format("\"{}\" is {} x {} pixels large", (*part)->name, picture->size.width_px, picture->size.height_px),
          fmt::format("{} x {}, as \"columncount\" and \"rowcount\" say", counts.of[0], counts.of[1]),
          "Export the job again.", layer});
    out.colour = out.colour || picture->colour;
    out.sheets.push_back(**part);
  }
  return {};
}

// The surface is where value * valuescale + valueoffset is 0 (Volumetric 2.2, 4.1.1), and below 0 is inside: the level
// set of its chapter 3 in part II is a distance less the radius of the ball. Nothing where black and white are on one
// side, as they are where both numbers are left out: then the level set does not tell them apart.
Result<std::optional<bool>> inside_is_black(const About& about, Node function) {
  const auto offset = number_of(about, function, "valueoffset", 0);
  if (!offset) return tl::unexpected(offset.error());
  const auto scale = number_of(about, function, "valuescale", 1);
  if (!scale) return tl::unexpected(scale.error());
  const double surface = -*offset / *scale;
  if (surface > 0 && surface < 1) return *scale > 0;
  return std::nullopt;
}

// The image function that the level set is made of.
Result<Node> function_of(const About& about, Node resources, Node level_set, Node image) {
  const std::string id = level_set.attribute("functionid").value();
  const auto all = std::vector<Node>(resources.begin(), resources.end());
  const Node function = with_id(all, id);
  if (!function)
    return about.fault(ErrorKind::not_found, fmt::format("the level set names a function \"{}\"", id),
                       "a function of the model", "Export the job again.");
  if (!is(function, volumetric, "functionfromimage3d"))
    return about.unsupported(fmt::format("the level set is made of <{}>", function.name()),
                             "<functionfromimage3d>, a function from an image stack");
  if (auto known = know_attributes(about, function,
                                   {"id", "displayname", "image3did", "valueoffset", "valuescale", "filter",
                                    "tilestyleu", "tilestylev", "tilestylew"});
      !known)
    return tl::unexpected(std::move(known.error()));
  if (std::string_view(function.attribute("image3did").value()) != image.attribute("id").value())
    return about.fault(
        ErrorKind::not_found,
        fmt::format("the function \"{}\" names an image \"{}\"", id, function.attribute("image3did").value()),
        "the image stack of the model", "Export the job again.");
  const std::string channel = level_set.attribute("channel").value();
  if (channel != "red" && channel != "green" && channel != "blue")  // one and the same in grey sheets (Volumetric 3.2)
    return about.unsupported(fmt::format("the level set takes the channel \"{}\"", channel), "red, green or blue");
  return function;
}

// The object that is built, and how; one alone.
struct Built {
  Node object;
  Axes axes;
};

Result<Built> built(const About& about, Node model, const std::vector<Node>& objects) {
  const auto items = children(first(model, core, "build"), core, "item");
  if (items.size() != 1)
    return about.unsupported(fmt::format("the 3MF package builds {} objects", items.size()), "one alone");
  const Node object = with_id(objects, items[0].attribute("objectid").value());
  if (!object)
    return about.fault(
        ErrorKind::not_found,
        fmt::format("the object \"{}\" that is built is not in the model", items[0].attribute("objectid").value()),
        "an object of the model", "Export the job again.");
  const auto axes = axes_of(about, items[0]);
  if (!axes) return tl::unexpected(axes.error());
  return Built{object, *axes};
}

Result<Node> level_set_of(const About& about, Node object) {
  const Node found = first(object, volumetric, "levelset");
  if (!found) {
    std::string holds = "nothing";
    for (const Node child : object.children())
      if (child.type() == pugi::node_element) holds = fmt::format("<{}>", child.name());
    return about.unsupported(
        fmt::format("the object that is built holds {}, so that the image stack is not its shape", holds),
        "a level set of the image stack (Volumetric 4)");
  }
  if (auto known = know_attributes(about, found,
                                   {"functionid", "channel", "transform", "minfeaturesize", "meshid", "meshbboxonly",
                                    "fallbackvalue", "volumeid"});
      !known)
    return tl::unexpected(std::move(known.error()));
  return found;
}

// Of the one image stack; nothing where the model has none.
Result<Node> stack_of(const About& about, const std::vector<Node>& images) {
  std::vector<Node> stacks;
  for (const Node image : images)
    for (const Node stack : children(image, volumetric, "imagestack")) stacks.push_back(stack);
  if (stacks.size() == 1) return stacks.front();
  return about.unsupported(fmt::format("the 3MF package holds {} image stacks", stacks.size()), "one");
}

bool is_set(const OpenOptions& options, std::string_view path) {
  return std::any_of(options.set.begin(), options.set.end(), [&](const auto& one) { return one.path == path; });
}

Result<std::vector<SettingValue>> settings_of(const About& about, Node model, const Axes& to_uvw, const Axes& to_build,
                                              const Counts& counts) {
  const auto unit = unit_mm(about, model);
  if (!unit) return tl::unexpected(unit.error());
  std::vector<SettingValue> out;
  for (std::size_t axis = 0; axis < 3; ++axis)
    out.push_back({std::array{"image.pitch_x_mm", "image.pitch_y_mm", "layers.height_mm"}[axis],
                   fmt::format("{:.12g}", *unit * to_build.scale[axis] / (to_uvw.scale[axis] * counts.of[axis]))});
  for (const Node one : children(model, core, "metadata"))  // Core 3.4.1
    if (std::string_view(one.attribute("name").value()) == "Title") out.push_back({"title", one.text().get()});
  return out;
}

Result<ImageStack> read_model(const Package& package, Node model, const std::vector<Node>& images,
                              const OpenOptions& options) {
  const About& about = package.about();
  if (auto known = check_required(about, model); !known) return tl::unexpected(std::move(known.error()));
  const auto stack = stack_of(about, images);
  if (!stack) return tl::unexpected(stack.error());
  const Node resources = first(model, core, "resources");
  const auto objects = children(resources, core, "object");
  const auto build = built(about, model, objects);
  if (!build) return tl::unexpected(build.error());
  const auto level_set = level_set_of(about, build->object);
  if (!level_set) return tl::unexpected(level_set.error());
  const auto function = function_of(about, resources, *level_set, stack->parent());
  if (!function) return tl::unexpected(function.error());
  const auto to_uvw = axes_of(about, *level_set);
  if (!to_uvw) return tl::unexpected(to_uvw.error());
  const auto counts = counts_of(about, *stack, options.limits);
  if (!counts) return tl::unexpected(counts.error());
  const Node around = with_id(objects, level_set->attribute("meshid").value());
  if (auto bounded = check_bounds(about, *level_set, around, *to_uvw, *counts); !bounded)
    return tl::unexpected(std::move(bounded.error()));
  ImageStack out;
  auto settings = settings_of(about, model, *to_uvw, build->axes, *counts);
  if (!settings) return tl::unexpected(std::move(settings.error()));
  out.settings = std::move(*settings);
  if (!is_set(options, "masks.invert")) {
    const auto invert = inside_is_black(about, *function);
    if (!invert) return tl::unexpected(invert.error());
    if (*invert) out.settings.push_back({"masks.invert", **invert ? "true" : "false"});
  }
  if (auto read = read_sheets(package, *stack, *counts, out); !read) return tl::unexpected(std::move(read.error()));
  return out;
}

}  // namespace

Result<std::optional<ImageStack>> find_image_stack(const Store& store, const std::vector<Entry>& entries,
                                                   const std::string& file, const OpenOptions& options) {
  const auto rels_entry = store.find("_rels/.rels");
  if (!rels_entry) return tl::unexpected(rels_entry.error());
  if (!*rels_entry || is_set(options, "masks.files")) return std::nullopt;
  const Package package(store, entries, {file}, options.limits);
  pugi::xml_document rels, document;
  if (auto read = package.read_xml(**rels_entry, rels); !read) return tl::unexpected(std::move(read.error()));
  const std::string name = model_name(rels);
  if (name.empty()) return std::nullopt;
  const auto part = package.part(name);
  if (!part) return tl::unexpected(part.error());
  if (auto read = package.read_xml(**part, document); !read) return tl::unexpected(std::move(read.error()));
  const Node model = document.document_element();
  if (!is(model, core, "model"))
    return package.about().unsupported(fmt::format("the 3MF model begins with <{}>", model.name()),
                                       fmt::format("<model> of {}", core));
  const auto images = children(first(model, core, "resources"), volumetric, "image3d");
  if (images.empty()) {
    const auto& all = package.entries();
    if (std::count_if(all.begin(), all.end(), [](const Entry& one) { return ends_in_png(one.name); }) > 1)
      return std::nullopt;
    return package.about().unsupported("the 3MF package holds no image stack", "one (Volumetric 3)");
  }
  auto stack = read_model(package, model, images, options);
  if (!stack) return tl::unexpected(std::move(stack.error()));
  return std::optional<ImageStack>(std::move(*stack));
}

}  // namespace hairline::archive
