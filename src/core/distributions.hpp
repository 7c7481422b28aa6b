// Distributions: their tails and quantiles.
#pragma once

namespace gapfront {

/// Chance that a chi-square variable exceeds x; 1 without degrees of freedom.
double p_value(double chi2, double dof);
/// Value that a chi-square variable exceeds with the chance of a Gaussian beyond z.
double chi2_limit(double dof, double z);
/// Chance that an F variable of m and n degrees of freedom exceeds f.
double f_beyond(double f, double m, double n);
/// Chance that a standard Gaussian exceeds z.
double normal_beyond(double z);
/// Value that a standard Gaussian exceeds with this chance.
double normal_limit(double chance);
/// Value that Student's t of so many degrees of freedom exceeds with this chance.
double student_limit(double chance, double dof);
/// Value that a beta variable with parameters p, q > 0 is below with this chance.
double beta_quantile(double chance, double p, double q);
/// Chance that two samples of the same share differ as far as a hits of m and b of n do, or farther: Fisher's exact
/// test, two-sided (all tables of these margins that are no likelier). 1 where a sample is empty.
double fisher_exact(int a, int m, int b, int n);

}  // namespace gapfront
