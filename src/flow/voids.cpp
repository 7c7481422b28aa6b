// Voids by the front's speed.
#include "gapfront/flow.hpp"
