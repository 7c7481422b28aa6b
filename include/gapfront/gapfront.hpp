// gapfront: mold-gap metrology for closed-mold composites. Includes every stage.
#pragma once
#include "gapfront/inspection.hpp"
#include "gapfront/report.hpp"
