// Where the sheet has radii.
#include "gapfront/radii.hpp"
