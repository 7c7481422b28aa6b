// The trials as plain C, for WebAssembly: handles, numbers and bytes. All that it gives stays until the next call.
#pragma once
#include <cstddef>

extern "C" {
/// Room for so many bytes, to be written before a call that reads them; live_release() gives it back.
char* live_room(std::size_t bytes);
void live_release(char*);

/// A case that was packed. What is wrong with it is live_error()'s; the handle is never null.
struct LiveSession;
LiveSession* live_open(const char* bytes, std::size_t size);
/// Tries what so many numbers say; the count of nodes, or −1 upon an error.
int live_try(LiveSession*, const double* numbers, std::size_t count);
/// In one line; empty: none.
const char* live_error(const LiveSession*);

/// Of the last trial, one number per node: 0 when the front passes, s (infinity: never); 1 highest pressure, absolute,
/// Pa; 2 least local margin, Pa; 3 gap, mm.
const double* live_field(const LiveSession*, int which);
/// Of the last trial: how many numbers live_summary() has, and the numbers, in the order of session.cpp.
std::size_t live_summary_size(const LiveSession*);
const double* live_summary(const LiveSession*);
}
