// The grids' own code, compiled here for all sources (fields.h).
#include "sim/stock/fields.h"

template class openvdb::tree::Tree<proveout::stock::DistanceTree::RootNodeType>;
template class openvdb::Grid<proveout::stock::DistanceTree>;
template class openvdb::tree::Tree<openvdb::Int32Tree::RootNodeType>;
template class openvdb::Grid<openvdb::Int32Tree>;
