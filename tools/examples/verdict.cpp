// Two scans and a job file → the verdict, and the worst place. Nothing is predicted or written.
//   example_verdict JOB
#include <cmath>
#include <cstdio>
#include <exception>

#include <gapfront/gapfront.hpp>

int main(int, char** argv) try {
  const gapfront::Job job = gapfront::job::read_job(argv[1]);
  gapfront::pipeline::validate(job);  // what is wrong with the job comes out here, in milliseconds

  const gapfront::Measured m = gapfront::pipeline::measure(job);
  std::printf("%s\n", gapfront::say(m.verdict.headline).c_str());
  if (m.doubt) return 2;  // the registration is in doubt: there are no limits to speak of

  std::size_t worst = 0;  // the node whose gap is farthest from its nominal one; NaN where nothing was measured
  for (std::size_t i = 0; i < m.sheet.size(); ++i)
    if (!(std::abs(m.verdict.deviation[i]) <= std::abs(m.verdict.deviation[worst]))) worst = i;
  const gapfront::Vec3& p = m.sheet.mesh.points[worst];
  std::printf("gap %.4f mm, U %.4f mm at %.1f %.1f %.1f mm\n", m.gap.nodes[worst].gap, m.gap.nodes[worst].U, p.x(),
              p.y(), p.z());
} catch (const std::exception& e) {
  std::fprintf(stderr, "%s\n", e.what());
  return 1;
}
