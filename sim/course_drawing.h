// SPDX-License-Identifier: Apache-2.0
// The course of one batch as a page: salinity as a whole and near its target, temperature, and when
// the water stood, no sample came and the pump might run.
#pragma once

#include <string>

#include "sim/course.h"

namespace brinegate::sim {

std::string course_html(const Course& course);

}  // namespace brinegate::sim
