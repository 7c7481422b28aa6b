#include "report/square_code.hpp"

#include <qrencode.h>

#include <memory>

namespace gapfront::report {

std::string square_code_svg(const std::string& text, const std::string& label) {
  if (text.empty()) return "";
  const std::unique_ptr<QRcode, decltype(&QRcode_free)> code(QRcode_encodeString8bit(text.c_str(), 0, QR_ECLEVEL_M),
                                                             &QRcode_free);
  if (!code) return "";
  constexpr int quiet = 4;  // modules, as ISO/IEC 18004 asks
  const int across = code->width + 2 * quiet;
  std::string path;
  for (int y = 0; y < code->width; ++y)
    for (int x = 0; x < code->width; ++x)
      if (code->data[y * code->width + x] & 1)
        path += "M" + std::to_string(x + quiet) + " " + std::to_string(y + quiet) + "h1v1h-1z";
  const std::string size = std::to_string(across);
  return "<svg class=\"square-code\" role=\"img\" aria-label=\"" + label + "\" viewBox=\"0 0 " + size + " " + size +
         "\" shape-rendering=\"crispEdges\"><path fill=\"#fff\" d=\"M0 0h" + size + "v" + size + "h-" + size +
         "z\"/><path fill=\"#000\" d=\"" + path + "\"/></svg>\n";
}

}  // namespace gapfront::report
