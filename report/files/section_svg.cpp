#include "report/files/section_svg.h"

#include <fmt/format.h>

#include <cmath>

#include "report/files/atomic_file.h"
#include "report/text/words.h"

namespace proveout::files {
namespace {

constexpr double margin = 5;  // mm

std::string escaped(const std::string& text) {
  std::string out;
  for (const char c : text::xml_text(text)) {
    if (c == '&')
      out += "&amp;";
    else if (c == '<')
      out += "&lt;";
    else if (c == '>')
      out += "&gt;";
    else
      out += static_cast<unsigned char>(c) < 0x20 ? ' ' : c;
  }
  return out;
}

// No minus zero: the same drawing for the same section.
std::string figure(double v) {
  const double r = std::round(v * 1000) / 1000;
  return fmt::format("{:g}", r == 0 ? 0.0 : r);
}

}  // namespace

std::string section_svg(const measure::Section& section, const std::string& title) {
  Box3 box;
  for (const auto& c : section.contours)
    for (const auto& p : c.points) box.extend(Vec3(p.x(), -p.y(), 0));
  if (box.isEmpty()) box.extend(Vec3(0, 0, 0));
  const Vec3 low = box.min() - Vec3(margin, margin, 0),
             size = box.sizes() + 2 * Vec3(margin, margin, 0);
  std::string out = fmt::format(
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
      "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}mm\" height=\"{1}mm\" "
      "viewBox=\"{2} {3} {0} {1}\">\n"
      "<title>{4}</title>\n"
      "<desc>1 unit = 1 mm, y up is drawn upwards. Area {5:.3f} mm2, outline {6:.3f} mm, "
      "{7} contours.</desc>\n",
      figure(size.x()), figure(size.y()), figure(low.x()), figure(low.y()), escaped(title),
      section.area_mm2, section.perimeter_mm, section.contours.size());
  out +=
      "<path fill=\"#c8ccd0\" fill-rule=\"evenodd\" stroke=\"#000000\" stroke-width=\"0.1\" d=\"";
  for (const auto& c : section.contours) {
    for (std::size_t k = 0; k < c.points.size(); ++k)
      out += fmt::format("{}{} {}", k == 0 ? "M" : "L", figure(c.points[k].x()),
                         figure(-c.points[k].y()));
    out += "Z\n";
  }
  out += "\"/>\n";
  if (low.x() <= 0 && low.y() <= 0 && low.x() + size.x() >= 0 && low.y() + size.y() >= 0)
    out += "<path fill=\"none\" stroke=\"#d55e00\" stroke-width=\"0.2\" d=\"M-3 0H3M0 -3V3\"/>\n";
  return out + "</svg>\n";
}

void write_sections(const run::JobResult& result, const std::vector<double>& heights,
                    const std::filesystem::path& folder, FileSet& set) {
  for (std::size_t s = 0; s < result.stock_after.size(); ++s) {
    const run::SetupResult& setup = result.setups[s];
    for (const double z : heights) {
      const RigidMotion plane = setup.stock_from_setup * Eigen::Translation3d(0, 0, z);
      const measure::Section section = measure::section(*result.stock_after[s], plane);
      set.write(folder / fmt::format("setup-{}-section-z{:g}.svg", s + 1, z),
                section_svg(section, fmt::format("{}, setup {}, Z {:g} mm", result.job.name,
                                                 setup.name, z)));
    }
  }
}

}  // namespace proveout::files
