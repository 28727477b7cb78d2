// Which G and M codes exist and which group each is of (NISTIR 6556 table 4; further codes are
// practice).
#pragma once

#include <cstdint>

namespace proveout::nc {

enum class Group : std::uint8_t {
  unknown,
  once,          // group 0: acts on its line only
  motion,        // G 1
  plane,         // G 2
  distance,      // G 3
  arc_distance,  // G90.1 G91.1, practice
  feed_mode,     // G 5
  units,         // G 6
  compensation,  // G 7
  tool_length,   // G 8
  cycle_return,  // G 10
  work_offset,   // G 12
  path_control,  // G 13
  spindle_mode,  // G96 G97, practice
  rotation,      // G68 G69, practice
  polar,         // G15 G16, practice
  scaling,       // G50 G51, practice
  mirroring,     // G50.1 G51.1, practice
  doubtful,      // G70 G71: what they are is a choice of Reads
  passed_over,   // look-ahead words and the like: move nothing
  refused        // known, changes the path, not followed
};

// tenths: the code times ten, as in Block.
constexpr Group group_of_g(int tenths) {
  switch (tenths) {
    case 0:
    case 10:
    case 20:
    case 30:
    case 382:
    case 383:
    case 384:
    case 385:
    case 730:
    case 740:
    case 760:
    case 800:
    case 810:
    case 820:
    case 830:
    case 840:
    case 850:
    case 860:
    case 870:
    case 880:
    case 890:
      return Group::motion;
    case 40:
    case 100:
    case 120:
    case 130:
    case 280:
    case 300:
    case 281:
    case 301:
    case 520:
    case 530:
    case 650:
    case 920:
    case 921:
    case 922:
    case 923:
      return Group::once;
    case 170:
    case 180:
    case 190:
      return Group::plane;
    case 900:
    case 910:
      return Group::distance;
    case 901:
    case 911:
      return Group::arc_distance;
    case 930:
    case 940:
    case 950:
      return Group::feed_mode;
    case 200:
    case 210:
      return Group::units;
    case 700:
    case 710:
      return Group::doubtful;
    case 400:
    case 410:
    case 420:
      return Group::compensation;
    case 430:
    case 431:
    case 490:
      return Group::tool_length;
    case 980:
    case 990:
      return Group::cycle_return;
    case 540:
    case 550:
    case 560:
    case 570:
    case 580:
    case 590:
    case 591:
    case 592:
    case 593:
    case 541:
    case 1540:
      return Group::work_offset;
    case 610:
    case 611:
    case 640:
      return Group::path_control;
    case 960:
    case 970:
      return Group::spindle_mode;
    case 680:
    case 690:
      return Group::rotation;
    case 150:
    case 160:
      return Group::polar;
    case 500:
    case 510:
      return Group::scaling;
    case 501:
    case 511:
      return Group::mirroring;
    case 50:
    case 51:
    case 80:
    case 90:
    case 620:
    case 1030:
    case 1870:
      return Group::passed_over;
    case 60:
    case 330:
    case 331:
    case 440:
    case 600:
    case 630:
    case 660:
    case 670:
    case 750:
      return Group::refused;
    default:
      return Group::unknown;
  }
}

enum class MGroup : std::uint8_t {
  unknown,
  stopping,
  tool_change,
  spindle,
  coolant,
  override_switch,
  subprogram,
  passed_over
};

constexpr MGroup group_of_m(int number) {
  switch (number) {
    case 0:
    case 1:
    case 2:
    case 30:
    case 60:
      return MGroup::stopping;
    case 6:
      return MGroup::tool_change;
    case 3:
    case 4:
    case 5:
      return MGroup::spindle;
    case 7:
    case 8:
    case 9:
      return MGroup::coolant;
    case 48:
    case 49:
      return MGroup::override_switch;
    case 97:
    case 98:
    case 99:
      return MGroup::subprogram;
    case 10:
    case 11:
    case 19:
    case 17:
    case 18:
    case 21:
    case 22:
    case 29:
    case 31:
    case 33:
    case 41:
    case 42:
    case 43:
    case 44:
    case 50:
    case 51:
    case 52:
    case 53:
      return MGroup::passed_over;
    default:
      return MGroup::unknown;
  }
}

}  // namespace proveout::nc
