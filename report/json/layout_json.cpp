#include "report/json/layout_json.h"

#include <cmath>
#include <nlohmann/json.hpp>

#include "sim/run/inputs.h"

namespace proveout::json {
namespace {

using Json = nlohmann::ordered_json;

double fine(double v) { return std::round(v * 1e3) / 1e3 + 0.0; }
Json point(const Vec3& p) { return {fine(p.x()), fine(p.y()), fine(p.z())}; }
Json box_json(const Box3& box) { return {point(box.min()), point(box.max())}; }

void add_points(Json& to, const std::vector<Vec3>& points) {
  for (const Vec3& p : points)
    for (int axis = 0; axis < 3; ++axis) to.push_back(fine(p[axis]));
}

Json mesh_json(const mesh::Mesh& mesh) {
  Json out = {{"box", box_json(mesh::bounds(mesh))}};
  if (mesh.triangles.size() > most_drawn_triangles) return out;
  Json points = Json::array(), triangles = Json::array();
  add_points(points, mesh.vertices);
  for (const auto& t : mesh.triangles)
    for (const std::uint32_t v : t) triangles.push_back(v);
  out["points"] = std::move(points);
  out["triangles"] = std::move(triangles);
  return out;
}

Json way_json(const pipeline::Way& way) {
  Json points = Json::array();
  add_points(points, way.points);
  return {{"rapid", way.rapid}, {"tool", way.tool}, {"points", std::move(points)}};
}

// Rows of the rotation, each with its part of the shift behind it.
Json matrix(const RigidMotion& motion) {
  Json rows = Json::array();
  for (int row = 0; row < 3; ++row) {
    Json of = Json::array();
    for (int column = 0; column < 3; ++column) of.push_back(motion.linear()(row, column));
    of.push_back(motion.translation()[row]);
    rows.push_back(std::move(of));
  }
  return rows;
}

}  // namespace

Json layout_json(const job::Job& job, const pipeline::JobPreview& preview) {
  const run::Inputs& in = *preview.inputs;
  Json out = {{"blank", box_json(in.blank)}};
  if (in.blank_mesh) out["blank_mesh"] = mesh_json(*in.blank_mesh);
  if (in.part) out["part"] = mesh_json(in.part->mesh());
  out["supports"] = Json::array();
  if (job.part)
    for (const Box3& s : job.part->supports) out["supports"].push_back(box_json(s));
  out["setups"] = Json::array();
  for (std::size_t i = 0; i < job.setups.size(); ++i) {
    const pipeline::SetupLayout& s = preview.layout.setups[i];
    Json setup = {{"name", job.setups[i].name}, {"setup_from_stock", matrix(s.setup_from_stock)},
                  {"zero_known", s.zero_known}, {"zero_text", s.zero_text},
                  {"fixtures", Json::array()},  {"ways", Json::array()}};
    for (const run::FixtureShape& f : in.setups[i].fixtures)
      setup["fixtures"].push_back(
          {{"name", f.name}, {"box", box_json(f.box)}, {"mesh", f.mesh != nullptr}});
    for (const pipeline::Way& way : s.ways) setup["ways"].push_back(way_json(way));
    out["setups"].push_back(std::move(setup));
  }
  return out;
}

}  // namespace proveout::json
