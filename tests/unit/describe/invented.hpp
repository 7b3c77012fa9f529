// Archives of programs that do not exist: the same stack of masks, with settings files in words of our own invention.
// They were written before the list of words in src/describe/key_words.cpp, and none was reworded to suit it.
#pragma once
#include <map>

#include "unit/archive/support.hpp"

namespace archive_test {

inline constexpr Size invented_size{600, 400};
inline constexpr std::uint32_t invented_layers = 12;

struct Invented {
  std::string name;
  std::vector<File> texts;
  std::map<std::string, double> there;  ///< settings the texts state, in our units
  std::string masks = "masks/0001.png";
  bool previews = false;
};

inline std::string long_list() {
  std::string out;
  for (int i = 0; i < 1000; ++i) out += (i == 0 ? "" : ", ") + std::to_string(2.5 + i % 7);
  return out;
}

inline std::string layer_lines(const char* before, const char* after) {
  std::string out;
  for (int i = 0; i < 12; ++i) out += before + std::to_string(i) + after;
  return out;
}

inline const std::map<std::string, double> usual{{"layers.height_mm", 0.05}, {"exposure.normal_s", 2.5},
                                                 {"exposure.base_s", 30},    {"exposure.base_layers", 4},
                                                 {"image.pitch_x_mm", 0.05}, {"image.pitch_y_mm", 0.05}};
inline const std::map<std::string, double> moves{
    {"motion.lift_mm", 6}, {"motion.lift_mm_per_min", 60}, {"motion.retract_mm_per_min", 150}};

inline std::map<std::string, double> with(std::map<std::string, double> a, const std::map<std::string, double>& b) {
  a.insert(b.begin(), b.end());
  return a;
}

inline std::vector<Invented> json_archives() {
  return {
      {"json, short words",
       {{"meta/run.json", R"({"job": {"name": "ferry model"},
 "light": {"time_ms": 2500, "first_layers_time_ms": 30000, "first_layers": 4},
 "geometry": {"layer_um": 50, "pixel_um": 50},
 "movement": {"lift_mm": 6, "lift_mm_per_min": 60, "return_mm_per_min": 150, "rest_s": 0.5}})"}},
       with(usual, moves)},
      {"json, capitals, texts and decimal commas",
       {{"config/print/settings.json",
         "{\"SheetSettings\": {\"LayerThickness\": \"0,05\", \"ExposureTime\": \"2,5\", \"BottomExposureTime\": "
         "\"30,0\", \"BottomLayerCount\": 4},\n \"Drive\": {\"LiftHeight\": \"6\", \"LiftSpeed\": \"60\", "
         "\"RetractSpeed\": \"150\"},\n \"Display\": {\"ResolutionX\": 600, \"ResolutionY\": 400, \"PixelSizeUm\": "
         "50},\n \"LayerTimes\": [" +
             long_list() + "]}"}},
       with(with(usual, moves), {{"image.width_px", 600}, {"image.height_px", 400}})},
      {"json, value and unit apart, plate and pixels",
       {{"a/b/profile.json", R"({"profile": {"slices": {"number": 12, "thickness": {"value": 50, "unit": "um"}},
 "curing": {"regular": {"value": 2.5, "unit": "s"}, "initial": {"value": 30, "unit": "s", "layers": 4}},
 "plate": {"width_mm": 30, "depth_mm": 20, "pixels": [600, 400]},
 "z": {"up": {"distance_mm": 6, "speed_mm_s": 1}, "down": {"speed_mm_s": 2.5}}}})"}},
       with(with(usual, moves), {{"layers.count", 12}, {"image.width_px", 600}, {"image.height_px", 400}})},
      {"json, names and values in a list",
       {{"job/params.json", R"([{"name": "layer height", "value": 0.05, "unit": "mm"},
 {"name": "normal exposure", "value": 2.5, "unit": "s"}, {"name": "base exposure", "value": 30, "unit": "s"},
 {"name": "base layers", "value": 4}, {"name": "pixel pitch", "value": 50, "unit": "um"},
 {"name": "lift height", "value": 6, "unit": "mm"}, {"name": "lift speed", "value": 60, "unit": "mm/min"},
 {"name": "retract speed", "value": 2.5, "unit": "mm/s"}, {"name": "lamp hours", "value": 410}])"}},
       with(usual, moves)},
      {"json, a list of layers beside the settings",
       {{"info/stack.json",
         "{\"layerHeightMm\": 0.05, \"exposureSeconds\": 2.5, \"baseExposureSeconds\": 30, \"numberOfBaseLayers\": 4,"
         " \"pixelPitchMm\": {\"x\": 0.05, \"y\": 0.05}, \"resin\": {\"label\": \"harbour grey\", \"densityGPerMl\": "
         "1.1}, \"transitionLayers\": 3, \"layers\": [" +
             layer_lines("{\"exposure\": 9, \"height\": 0.", "}, ") + "{\"exposure\": 9, \"height\": 1}]}"}},
       with(usual, {{"exposure.transition_layers", 3}, {"resin.density_g_per_ml", 1.1}})},
  };
}

inline std::vector<Invented> ini_archives() {
  return {
      {"ini with sections, bare numbers",
       {{"job.ini",
         "[light]\ntime_ms=2500\nbase_time_ms=30000\nbase_layers=4\n[layer]\nheight_um=50\ncount=12\n[screen]\n"
         "width=600\nheight=400\npitch=0.05\n[motor]\nlift=6\nlift_speed=60\ndown_speed=150\n"}},
       with(with(usual, moves), {{"layers.count", 12}, {"image.width_px", 600}, {"image.height_px", 400}})},
      {"ini with sections, capitals, units in the values",
       {{"Print.cfg",
         "; written by the gull slicer\r\n[Exposure]\r\nNormal = 2.5 s\r\nBottom = 30 s\r\nBottom layers = 4\r\n"
         "[Stack]\r\nSlice height = 0.05 mm\r\nNumber of slices = 12\r\n[Pixels]\r\nX = 600\r\nY = 400\r\nSize = 50 "
         "\xC2\xB5m\r\n[Resin]\r\nname = harbour grey\r\ndensity = 1.1 g/ml\r\n"}},
       with(
           usual,
           {{"layers.count", 12}, {"image.width_px", 600}, {"image.height_px", 400}, {"resin.density_g_per_ml", 1.1}})},
      {"ini with sections, decimal commas and a mark in front",
       {{"etc/slices.conf",
         "\xEF\xBB\xBF[cure]\nseconds=2,5\nfirst_seconds=30,0\nfirst_count=4\n[slices]\nthickness=0,05\n[pixel]\n"
         "pitch_x=0,05\npitch_y=0,05\n[up]\ndistance=6,0\nspeed=60,0\n[down]\nspeed=150,0\n"}},
       with(usual, moves)},
  };
}

inline std::vector<Invented> flat_archives() {
  return {
      {"flat, units in the values",
       {{"settings.txt",
         "layer height = 50 um\nexposure = 2500 ms\nbase exposure = 30 s\nbase layers = 4\npixel = 50 um\nlift = 6 mm\n"
         "lift speed = 1 mm/s\nretract speed = 2.5 mm/s\nrest before exposure = 500 ms\nrest after exposure = 1 s\n"}},
       with(with(usual, moves), {{"motion.rest_before_s", 0.5}, {"motion.rest_after_s", 1}})},
      {"flat, colons, longer words",
       {{"README.settings",
         "Layer thickness (\xCE\xBCm): 50\r\nLight time per layer [s]: 2.5\r\nLight time of bottom layers [s]: 30\r\n"
         "Number of bottom layers: 4\r\nXY pixel size (\xCE\xBCm): 50\r\nLift distance (mm): 6\r\n"
         "Lift speed (mm/min): 60\r\nRetract speed (mm/min): 150\r\nWait before light (s): 0.5\r\n"
         "Resin volume (ml): 12.5\r\n"}},
       with(with(usual, moves), {{"motion.rest_before_s", 0.5}})},
      {"flat, low lines and short words",
       {{"job.props",
         "layer_thickness_mm=0.05\nnormal_cure_time_s=2.5\nfirst_layers_cure_time_s=30\nfirst_layers_count=4\n"
         "px_size_um=50\nlift_height_mm=6\nlift_speed_mm_min=60\nretract_speed_mm_min=150\nlayers=12\n"}},
       with(with(usual, moves), {{"layers.count", 12}})},
  };
}

inline std::vector<Invented> xml_archives() {
  return {
      {"xml, attributes",
       {{"job.xml",
         "<?xml version=\"1.0\"?><job title=\"ferry\"><layer height=\"0.05\" unit=\"mm\" count=\"12\"/><exposure "
         "normal=\"2.5\" base=\"30\" baseLayers=\"4\" unit=\"s\"/><screen width=\"600\" height=\"400\" "
         "pixelPitch=\"0.05\"/><motion lift=\"6\" liftSpeed=\"60\" retractSpeed=\"150\"/></job>"}},
       with(with(usual, moves), {{"layers.count", 12}, {"image.width_px", 600}, {"image.height_px", 400}})},
      {"xml, elements with units",
       {{"data/print.xml",
         "<print>\n <LayerHeight unit=\"um\">50</LayerHeight>\n <Exposure>\n  <Time unit=\"ms\">2500</Time>\n  "
         "<BottomTime unit=\"ms\">30000</BottomTime>\n  <BottomLayers>4</BottomLayers>\n </Exposure>\n <Machine>\n  "
         "<PixelWidth unit=\"um\">50</PixelWidth>\n  <PixelHeight unit=\"um\">50</PixelHeight>\n </Machine>\n "
         "<Lift><Distance>6 mm</Distance><Speed>60 mm/min</Speed></Lift>\n <Retract><Speed>150 mm/min</Speed></Retract>"
         "\n</print>"}},
       with(usual, moves)},
      {"xml, named parameters",
       {{"p.xml",
         "<params><param name=\"slice thickness\" unit=\"mm\">0.05</param><param name=\"cure time\" "
         "unit=\"s\">2.5</param><param name=\"initial cure time\" unit=\"s\">30</param><param name=\"initial layers\">4"
         "</param><param name=\"plate width\" unit=\"mm\">30</param><param name=\"plate length\" unit=\"mm\">20</param>"
         "<param name=\"lift height\" unit=\"mm\">6</param><param name=\"lift speed\" unit=\"mm/min\">60</param>"
         "<param name=\"retract speed\" unit=\"mm/min\">150</param></params>"}},
       with(usual, moves)},
  };
}

inline std::vector<Invented> text_archives() {
  return {
      {"plain lines, words and numbers",
       {{"notes.txt",
         "Job for the quay bench\nLayer height 0.05 mm\nExposure time 2.5 s\nBase exposure 30 s for 4 base layers\n"
         "Pixel size 50 um\nLift 6 mm at 60 mm/min\nRetract at 150 mm/min\n"}},
       with(usual, moves)},
      {"plain lines, numbers first",
       {{"about.txt",
         "12 layers\n0.05 mm layer height\n2.5 s exposure\n30 s base exposure\n4 base layers\n50 um pixel pitch\n"}},
       with(usual, {{"layers.count", 12}})},
      {"plain lines, a table",
       {{"table.csv",
         "setting;value;unit\nlayer thickness;50;um\ncure time;2,5;s\nbottom cure time;30;s\nbottom layers;4;\npixel "
         "pitch;0,05;mm\nlift distance;6;mm\nlift speed;60;mm/min\nretract speed;150;mm/min\n"}},
       with(usual, moves)},
  };
}

inline std::vector<Invented> other_archives() {
  return {
      {"previews, and masks that say nothing",
       {{"stack/info.ini",
         "height=0.05\nlayer_height=0.05\nexposure_time=2.5\nbottom_exposure_time=30\nbottom_layer_count=4\n"
         "plate_x=30.0\nplate_y=20.0\nplate_z=160\nlift_distance=6\nlift_speed=60\nretract_speed=150\n"
         "total_time=5400\nresin_used_ml=12.3\n"}},
       with(usual, moves),
       "stack/out7.png",
       true},
      {"everything in one line, nested",
       {{"k.json", R"({"print":{"layer":{"height":0.05,"normal":{"exposure":2.5},"base":{"exposure":30,"count":4}},
 "plate":{"size":{"x":30,"y":20,"z":150}},"lift":{"height":6,"speed":60},"retract":{"speed":150}}})"}},
       with(usual, moves),
       "1.png"},
  };
}

/// A second set, written by thinking of what others would write, when the first was already read right.
inline std::vector<Invented> later_archives() {
  return {
      {"json, milliseconds and micrometres in capitals",
       {{"x/y/z/Header.JSON",
         R"({"FileVersion": 3, "Resin": {"Name": "harbour grey", "DensityKgPerM3": 1100, "PricePerLitre": 40},
 "Exposure": {"NormalMs": 2500, "FirstLayersMs": 30000, "FirstLayersCount": 4, "TransitionCount": 3, "PowerPercent": 80},
 "Stack": {"LayerCount": 12, "LayerUm": 50, "TotalHeightMm": 0.6}, "Screen": {"Columns": 600, "Rows": 400, "DotUm": 50},
 "Motion": {"RaiseMm": 6, "RaiseMmPerMin": 60, "LowerMmPerMin": 150, "PauseBeforeLightMs": 500, "PauseAfterLightMs": 1000}})"}},
       with(with(usual, moves), {{"layers.count", 12},
                                 {"image.width_px", 600},
                                 {"image.height_px", 400},
                                 {"exposure.transition_layers", 3},
                                 {"resin.density_g_per_ml", 1.1},
                                 {"motion.rest_before_s", 0.5},
                                 {"motion.rest_after_s", 1}})},
      {"json, texts with units",
       {{"recipe.json",
         R"({"layer_thickness": "50 micron", "cure_time": "2500 msec", "bottom_cure_time": "30 sec", "bottom_layers": "4 layers",
 "resolution": "600 x 400", "xy_resolution": "50 micron", "lift": {"height": "6mm", "speed": "60mm/min"},
 "retract": {"speed": "150mm/min"}, "wait_before_cure": "0.5 sec"})"}},
       with(with(usual, moves), {{"image.width_px", 600}, {"image.height_px", 400}, {"motion.rest_before_s", 0.5}})},
      {"ini, one section for each thing",
       {{"conf/machine.ini",
         "[Machine]\nName = quay bench\nPlate X mm = 30\nPlate Y mm = 20\nPixels X = 600\nPixels Y = 400\n"},
        {"conf/profile.ini",
         "[Layers]\nThickness = 0.05\nCount = 12\n[Normal layers]\nExposure time = 2.5\nLift distance = 6\nLift "
         "speed = 60\nRetract speed = 150\n[Bottom layers]\nExposure time = 30\nCount = 4\nLift speed = 40\n"}},
       with(with(usual, moves), {{"layers.count", 12}, {"image.width_px", 600}, {"image.height_px", 400}})},
      {"ini, remarks name the units",
       {{"run.ini",
         "exposure = 2500 ; ms\nexposure_base = 30000 ; ms\nlayers_base = 4\nlayer_height = 50 ; um\npixel_size = 50 ; "
         "um\nlift_speed = 60 ; mm/min\nlift = 6 ; mm\nretract_speed = 150 ; mm/min\nlamp_power = 90 ; %\n"}},
       with(usual, moves)},
      {"flat, dots in the keys",
       {{"slicing.properties",
         "print.layer.height.mm=0.05\nprint.exposure.normal.s=2.5\nprint.exposure.bottom.s=30\n"
         "print.bottom.layers=4\nprinter.pixel.size.mm=0.05\nprint.lift.distance.mm=6\n"
         "print.lift.speed.mm.per.min=60\nprint.retract.speed.mm.per.min=150\n"}},
       with(usual, moves)},
      {"flat, no spaces and no capitals",
       {{"p.txt",
         "layerheight=0.05\nexposuretime=2.5\nbottomexposuretime=30\nbottomlayers=4\npixelsize=0.05\n"
         "liftheight=6\nliftspeed=60\nretractspeed=150\n"}},
       with(usual, moves)},
      {"colons, indented",
       {{"job.yaml",
         "layer:\n  height: 0.05\n  count: 12\nexposure:\n  normal: 2.5\n  base: 30\n  base_layers: 4\npixel:\n  "
         "width: 0.05\n  height: 0.05\nlift:\n  distance: 6\n  speed: 60\nretract:\n  speed: 150\n"}},
       with(with(usual, moves), {{"layers.count", 12}})},
      {"xml, one element for each layer too",
       {{"slices.xml",
         "<stack pitch_um=\"50\" thickness_um=\"50\" base_count=\"4\"><light normal_ms=\"2500\" base_ms=\"30000\"/>"
         "<move up_mm=\"6\" up_mm_s=\"1\" down_mm_s=\"2.5\"/>" +
             layer_lines("<slice n=\"", "\" time=\"9\" z=\"3\"/>") + "</stack>"}},
       with(usual, moves)},
      {"xml, values as attributes of settings",
       {{"set.xml",
         "<settings><setting key=\"LayerThickness\" value=\"0,05\"/><setting key=\"CureTime\" value=\"2,5\"/>"
         "<setting key=\"BaseCureTime\" value=\"30\"/><setting key=\"BaseLayers\" value=\"4\"/><setting "
         "key=\"PixelPitch\" value=\"0,05\"/><setting key=\"LiftHeight\" value=\"6\"/><setting key=\"LiftSpeed\" "
         "value=\"60\"/><setting key=\"RetractSpeed\" value=\"150\"/></settings>"}},
       with(usual, moves)},
      {"plain sentences",
       {{"readme",
         "This job has 12 layers, each 0.05 mm thick.\nEvery layer is exposed for 2.5 seconds; the first 4 layers are "
         "exposed for 30 seconds.\nA pixel is 50 microns wide and high.\nAfter each layer the plate lifts 6 mm at 60 "
         "mm/min and returns at 150 mm/min.\n"}},
       with(with(usual, moves), {{"layers.count", 12}})},
      {"plain lines with dots between",
       {{"info.txt",
         "Layer height ........ 50 um\nCure time ........... 2500 ms\nBottom cure time .... 30000 ms\nBottom layers "
         "....... 4\nPixel pitch ......... 50 um\nLift height ......... 6000 um\nLift speed .......... 1 mm/s\n"
         "Retract speed ....... 2.5 mm/s\n"}},
       with(usual, moves)},
  };
}

inline std::vector<Invented> all_invented() {
  std::vector<Invented> out;
  for (const auto& some : {json_archives(), ini_archives(), flat_archives(), xml_archives(), text_archives(),
                           other_archives(), later_archives()})
    out.insert(out.end(), some.begin(), some.end());
  return out;
}

}  // namespace archive_test
