#include "sim/pipeline/stages.h"

#include <fmt/format.h>

#include <bit>
#include <cmath>
#include <cstring>
#include <type_traits>

#include "parser/mesh/mesh.h"
#include "sim/stock/stock_file.h"

namespace proveout::pipeline {

void Fingerprint::add_bytes(const void* bytes, std::size_t count) {
  not_yet_.append(static_cast<const char*>(bytes), count);
  if (not_yet_.size() < 4096) return;
  digest_.add(not_yet_);
  not_yet_.clear();
}

void Fingerprint::add(std::string_view text) {
  add(static_cast<std::uint64_t>(text.size()));
  add_bytes(text.data(), text.size());
}
void Fingerprint::add(std::uint64_t number) { add_bytes(&number, sizeof number); }
void Fingerprint::add(double number) { add(std::bit_cast<std::uint64_t>(number + 0.0)); }
void Fingerprint::add(const Vec3& vector) {
  for (int k = 0; k < 3; ++k) add(vector[k]);
}

void Fingerprint::add(const mesh::Mesh& mesh) {
  add(static_cast<std::uint64_t>(mesh.vertices.size()));
  for (const Vec3& v : mesh.vertices) add(v);
  for (const auto& t : mesh.triangles) add_bytes(t.data(), sizeof t);
}

std::string Fingerprint::text() const {
  Sha256 all(digest_);
  all.add(not_yet_);
  return all.text();
}

namespace {

void add(Fingerprint& to, const nc::Motion& m) {
  to.add(m.start);
  to.add(m.end);
  to.add(m.centre);
  to.add(m.sweep);
  to.add(static_cast<std::uint64_t>(m.kind) << 8 | static_cast<std::uint64_t>(m.plane));
}

void add(Fingerprint& to, const solid::Body& body) {
  to.add(static_cast<std::uint64_t>(body.meridian.size()));
  for (const solid::ProfileSegment& p : body.meridian) {
    for (const solid::ProfilePoint& point : {p.from, p.to, p.centre}) {
      to.add(point.radius);
      to.add(point.height);
    }
    to.add(p.is_arc ? p.arc_radius : 0.0);
  }
}

void add(Fingerprint& to, const solid::ToolBody& body) {
  add(to, body.flutes);
  to.add(static_cast<std::uint64_t>(body.shank.size()));
  for (const solid::Body& b : body.shank) add(to, b);
  to.add(static_cast<std::uint64_t>(body.holder.size()));
  for (const solid::Body& b : body.holder) add(to, b);
}

// Numbers one after another, as they lie in memory.
class Writer {
 public:
  template <class T>
  void put(const T& value) {
    static_assert(std::is_arithmetic_v<T>);
    bytes.append(reinterpret_cast<const char*>(&value), sizeof value);
  }
  std::string bytes;
};

class Reader {
 public:
  explicit Reader(std::string_view bytes) : bytes_(bytes) {}
  template <class T>
  void get(T& value) {
    static_assert(std::is_arithmetic_v<T>);
    if (bytes_.size() < sizeof value) {
      short_ = true;
      return;
    }
    std::memcpy(&value, bytes_.data(), sizeof value);
    bytes_.remove_prefix(sizeof value);
  }
  bool ended() const { return !short_ && bytes_.empty(); }

 private:
  std::string_view bytes_;
  bool short_ = false;
};

// The fields of an outcome and of a sample, for writing and reading alike.
template <class Outcome, class Do>
void each_field(Outcome& m, Do what) {
  what(m.removed_mm3), what(m.contact), what(m.shank_depth), what(m.holder_depth);
  what(m.contact_at.x()), what(m.contact_at.y()), what(m.contact_at.z());
  what(m.first_sample), what(m.sample_count);
}
constexpr std::size_t outcome_bytes = 8 + 1 + 2 * 4 + 3 * 8 + 2 * 4;
template <class Sample, class Do>
void each_field_of_sample(Sample& s, Do what) {
  what(s.along), what(s.length), what(s.removed_mm3), what(s.axial_depth), what(s.bottom);
  what(s.radial_width), what(s.arc_from), what(s.arc_to), what(s.arc);
  what(s.columns), what(s.first_extent), what(s.area_from), what(s.area_to);
}
constexpr std::size_t sample_bytes = 12 * 4 + 8;
constexpr std::size_t extent_bytes = 2 * 2;

std::string bytes_of(const stock::Cut& cut) {
  Writer w;
  const auto put = [&](const auto& value) { w.put(value); };
  put(cut.distances);
  put(static_cast<std::uint64_t>(cut.samples.size()));
  for (const stock::MotionOutcome& m : cut.motions) each_field(m, put);
  for (const stock::EngagementSample& s : cut.samples) each_field_of_sample(s, put);
  for (const stock::ColumnExtent& e : cut.extents) put(e.low), put(e.high);
  return std::move(w.bytes);
}

// nullopt: not the outcome of so many motions.
std::optional<stock::Cut> cut_of(std::string_view bytes, std::size_t motions) {
  constexpr std::size_t head = 16;
  if (bytes.size() < head || (bytes.size() - head) / outcome_bytes < motions) return std::nullopt;
  std::uint64_t samples = 0;
  std::memcpy(&samples, bytes.data() + 8, sizeof samples);
  std::size_t rest = bytes.size() - head - motions * outcome_bytes;
  if (samples > rest / sample_bytes) return std::nullopt;
  rest -= samples * sample_bytes;
  if (rest % extent_bytes != 0) return std::nullopt;
  stock::Cut cut;
  cut.motions.resize(motions);
  cut.samples.resize(samples);
  cut.extents.resize(rest / extent_bytes);
  Reader r(bytes);
  const auto get = [&](auto& value) { r.get(value); };
  get(cut.distances), get(samples);
  for (stock::MotionOutcome& m : cut.motions) each_field(m, get);
  for (stock::EngagementSample& s : cut.samples) each_field_of_sample(s, get);
  for (stock::ColumnExtent& e : cut.extents) get(e.low), get(e.high);
  if (!r.ended()) return std::nullopt;
  for (const stock::MotionOutcome& m : cut.motions) {
    if (m.first_sample > cut.samples.size() || m.sample_count > cut.samples.size() - m.first_sample)
      return std::nullopt;
  }
  for (const stock::EngagementSample& s : cut.samples) {
    const auto columns = static_cast<std::size_t>(std::popcount(s.columns));
    if (s.first_extent > cut.extents.size() || columns > cut.extents.size() - s.first_extent)
      return std::nullopt;
  }
  return cut;
}

void append(stock::Cut& to, stock::Cut piece) {
  const auto base = static_cast<std::uint32_t>(to.samples.size());
  for (stock::MotionOutcome& m : piece.motions) {
    m.first_sample += base;
    to.motions.push_back(m);
  }
  const auto extents = static_cast<std::uint32_t>(to.extents.size());
  for (stock::EngagementSample& s : piece.samples) s.first_extent += extents;
  to.samples.insert(to.samples.end(), piece.samples.begin(), piece.samples.end());
  to.extents.insert(to.extents.end(), piece.extents.begin(), piece.extents.end());
  to.distances += piece.distances;
  to.stopped = to.stopped || piece.stopped;
}

}  // namespace

Stages::Stages(StageStore store, Fingerprint so_far) : store_(std::move(store)), so_far_(so_far) {}

std::optional<stock::Cut> Stages::reuse(const std::string& name, std::size_t motions,
                                        stock::Stock& stock) const {
  if (!store_.read) return std::nullopt;
  const std::optional<std::string> bytes = store_.read(name);
  if (!bytes) return std::nullopt;
  // A file that cannot be read, or of another job, is no mistake: the tool run is cut again.
  Diagnostics unread;
  stock::StockNotes notes;
  std::optional<stock::Stock> kept = stock::read_vdb(*bytes, name, unread, &notes);
  if (!kept || notes["fingerprint"] != so_far_.text()) return std::nullopt;
  std::optional<stock::Cut> cut = cut_of(notes["cut"], motions);
  if (cut) stock = std::move(*kept);
  return cut;
}

stock::Cut Stages::cut(std::size_t setup, std::span<const nc::Motion> motions,
                       std::span<const stock::ToolRun> uses, const RigidMotion& stock_from_setup,
                       stock::MotionId first_id, const stock::CutOptions& options,
                       stock::Stock& stock) {
  const bool kept = static_cast<bool>(store_.keep) || static_cast<bool>(store_.read);
  if (kept) {
    so_far_.add("setup, with columns");  // what is kept of a cut is part of what it is known by
    for (int row = 0; row < 3; ++row) {
      for (int column = 0; column < 4; ++column) so_far_.add(stock_from_setup(row, column));
    }
    so_far_.add(static_cast<std::uint64_t>(first_id));
  }
  stock::Cut all;
  for (std::size_t u = 0; u < uses.size() && !all.stopped; ++u) {
    const stock::ToolRun& use = uses[u];
    const std::size_t count = use.last - use.first;
    const std::span<const nc::Motion> run_motions = motions.subspan(use.first, count);
    if (kept) {
      if (use.body != nullptr) add(so_far_, *use.body);
      for (const nc::Motion& m : run_motions) add(so_far_, m);
    }
    const std::string name = fmt::format("setup-{}-stage-{}-T{}.vdb", setup, u + 1,
                                         use.body == nullptr ? 0 : use.body->number);
    if (auto from_store = reuse(name, count, stock)) {
      append(all, std::move(*from_store));
      ++reused_;
      continue;
    }
    const stock::ToolRun own{0, count, use.body};
    stock::CutOptions part = options;
    if (options.progress) {
      part.progress = [&](double share) {
        return options.progress(
            (static_cast<double>(use.first) + share * static_cast<double>(count)) /
            static_cast<double>(motions.size()));
      };
    }
    stock::Cut cut = stock.cut(run_motions, {&own, 1}, stock_from_setup,
                               first_id + static_cast<stock::MotionId>(use.first), part);
    ++cut_;
    if (store_.keep && !cut.stopped) {
      store_.keep(name,
                  stock::vdb_bytes(stock, {{"fingerprint", so_far_.text()}, {"cut", bytes_of(cut)}},
                                   stock::Packing::quick));
    }
    append(all, std::move(cut));
  }
  all.motions.resize(motions.size());  // stopped early: the rest did nothing
  return all;
}

}  // namespace proveout::pipeline
