#include "sim/stock/stock.h"

#include "sim/stock/fields.h"

namespace proveout::stock {

Stock::Stock(std::unique_ptr<Fields> fields) : fields_(std::move(fields)) {}
Stock::Stock(Stock&&) noexcept = default;
Stock& Stock::operator=(Stock&&) noexcept = default;
Stock::~Stock() = default;

double Stock::voxel() const { return fields_->voxel; }

Stock Stock::clone() const {
  auto copy = std::make_unique<Fields>();
  copy->distance = fields_->distance->deepCopy();
  copy->provenance = fields_->provenance->deepCopy();
  copy->voxel = fields_->voxel;
  return Stock(std::move(copy));
}

}  // namespace proveout::stock
