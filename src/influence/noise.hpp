#pragma once

#include <Eigen/Core>
#include <Eigen/SparseCore>
#include <Eigen/SparseQR>
#include <memory>
#include <optional>
#include <vector>

namespace counterspot {

/// What errs alike in the rows of several blocks.
struct CommonError {
  std::vector<std::size_t> blocks;  ///< ascending; the same one twice: twice as much
  Eigen::MatrixXd shown;            ///< in each block's rows, a column per error of variance 1
  /// What is shown is one matrix for all of a kind, times this square one. Nothing: of no kind.
  std::optional<int> kind = {};
  Eigen::MatrixXd times = {};
};

/// The covariance V of the rows of a regression: blocks B along its diagonal, one per spin and one of a prior, and what
/// errs alike in several of them, V = B + F Fᵀ. V itself is never made, so that twice as many rows cost twice as much.
///
/// V⁻¹ = WᵀW with W z = Q₂ᵀ(0, L⁻¹z), where B = LLᵀ and [I; L⁻¹F] = [Q₁ Q₂] (R; 0): least squares with the common
/// errors as further unknowns (Å. Björck, *Numerical Methods for Least Squares Problems*, 1996, 4.3, from memory),
/// without the difference of near numbers that Woodbury's formula takes. Any other basis of these unknowns serves as
/// well, [D; L⁻¹G] with G = FD: where one piece after the other is fitted to stay, the difference of two of them shows
/// in the few spins between, and the factors stay as sparse as where pieces come and go.
class Noise {
 public:
  /// @param blocks positive definite, in the order of the rows.
  Noise(std::vector<Eigen::MatrixXd> blocks, std::vector<CommonError> errors);

  /// W M.
  Eigen::MatrixXd whitened(const Eigen::MatrixXd& rows) const;
  /// Wᵀ M.
  Eigen::MatrixXd whitened_back(const Eigen::MatrixXd& rows) const;
  /// M V Mᵀ.
  Eigen::MatrixXd carried(const Eigen::MatrixXd& by) const;
  /// Along the diagonal of V, and of V⁻¹.
  std::vector<Eigen::MatrixXd> blocks() const;
  std::vector<Eigen::MatrixXd> blocks_of_inverse() const;

 private:
  using Sparse = Eigen::SparseMatrix<double>;
  using Factors = Eigen::SparseQR<Sparse, Eigen::NaturalOrdering<int>>;

  void factorise();
  Eigen::Index common() const { return shared_.cols(); }
  auto rows_of(Eigen::MatrixXd& rows, std::size_t block) const {
    return rows.middleRows(first_[block], blocks_[block].rows());
  }

  std::vector<Eigen::MatrixXd> blocks_, roots_;  // B, L
  std::vector<Eigen::Index> first_;              // row of each block
  std::vector<CommonError> errors_;              // of several blocks
  Sparse basis_, shared_;                        // D, unit upper triangular, and G
  std::unique_ptr<Factors> factors_;             // none without common errors
};

/// Σ M_i B_i M_iᵀ over the columns of M that go with blocks along a diagonal.
/// @param from, to the blocks. @param first column of M.
Eigen::MatrixXd carried_blocks(const Eigen::MatrixXd& by, const std::vector<Eigen::MatrixXd>& blocks, std::size_t from,
                               std::size_t to, Eigen::Index first);

}  // namespace counterspot
