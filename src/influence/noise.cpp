#include "influence/noise.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <map>

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;

using Entries = std::vector<Eigen::Triplet<double>>;

void add_entries(const MatrixXd& part, Index row, Index column, Entries& entries) {
  for (Index c = 0; c < part.cols(); ++c)
    for (Index r = 0; r < part.rows(); ++r) entries.emplace_back(row + r, column + c, part(r, c));
}

bool of_one_block(const CommonError& error) {
  return error.blocks.front() == error.blocks.back();
}

/// What several blocks share, those with fewest first: eliminated in this order they fill the factors least.
std::vector<CommonError> shared_of(std::vector<CommonError> errors) {
  std::erase_if(errors, of_one_block);
  std::stable_sort(errors.begin(), errors.end(),
                   [](const auto& one, const auto& other) { return one.blocks.size() < other.blocks.size(); });
  return errors;
}

/// What an error is told by: itself, and so much less of another that is in some of its blocks, so that it shows in the
/// others only.
struct Told {
  std::vector<std::size_t> blocks;
  std::optional<std::size_t> by = {};  ///< the other one
  MatrixXd less = {};
};

bool tells(const CommonError& error) {
  return error.times.rows() == error.times.cols() && Eigen::FullPivLU<MatrixXd>(error.times).isInvertible();
}

/// Pieces that stay on are each in all the spins of the next one. @param errors those with fewest blocks first.
std::vector<Told> told_by_next(const std::vector<CommonError>& errors) {
  std::vector<Told> all;
  std::map<std::pair<int, std::size_t>, std::size_t> last;  // of a kind, and of those that end alike
  for (std::size_t i = 0; i < errors.size(); ++i) {
    const CommonError& error = errors[i];
    Told& told = all.emplace_back(Told{error.blocks});
    if (!error.kind || !tells(error)) continue;
    const auto [at, first] = last.try_emplace({*error.kind, error.blocks.back()}, i);
    const CommonError& other = errors[at->second];
    if (!first && std::includes(error.blocks.begin(), error.blocks.end(), other.blocks.begin(), other.blocks.end())) {
      told = {{}, at->second, other.times.fullPivLu().solve(error.times)};
      std::set_difference(error.blocks.begin(), error.blocks.end(), other.blocks.begin(), other.blocks.end(),
                          std::back_inserter(told.blocks));
    }
    at->second = i;
  }
  return all;
}

Eigen::SparseMatrix<double> sparse_of(Index rows, Index columns, const Entries& entries) {
  Eigen::SparseMatrix<double> matrix(rows, columns);
  matrix.setFromTriplets(entries.begin(), entries.end());
  return matrix;
}

}  // namespace

MatrixXd carried_blocks(const MatrixXd& by, const std::vector<MatrixXd>& blocks, std::size_t from, std::size_t to,
                        Index first) {
  MatrixXd sum = MatrixXd::Zero(by.rows(), by.rows());
  for (std::size_t i = from; i < to; first += blocks[i++].rows()) {
    const auto part = by.middleCols(first, blocks[i].rows());
    sum += part * blocks[i] * part.transpose();
  }
  return sum;
}

Noise::Noise(std::vector<MatrixXd> blocks, std::vector<CommonError> errors) : blocks_(std::move(blocks)) {
  for (const CommonError& error : errors) {
    if (!of_one_block(error)) continue;
    const MatrixXd shown = static_cast<double>(error.blocks.size()) * error.shown;
    blocks_[error.blocks.front()] += shown * shown.transpose();
  }
  Index next = 0;
  for (const MatrixXd& block : blocks_) {
    first_.push_back(next);
    next += block.rows();
    roots_.emplace_back(Eigen::LLT<MatrixXd>(block).matrixL());
  }
  errors_ = shared_of(std::move(errors));
  factorise();
}

void Noise::factorise() {
  const Index rows = first_.back() + blocks_.back().rows();
  std::vector<Index> columns{0};
  for (const CommonError& error : errors_) columns.push_back(columns.back() + error.shown.cols());
  Entries of_basis;
  Entries of_shared;
  Entries of_whitened;
  const std::vector<Told> told = told_by_next(errors_);
  for (std::size_t i = 0; i < told.size(); ++i) {
    const MatrixXd& shown = errors_[i].shown;
    add_entries(MatrixXd::Identity(shown.cols(), shown.cols()), columns[i], columns[i], of_basis);
    if (told[i].by) add_entries(-told[i].less, columns[*told[i].by], columns[i], of_basis);
    for (const std::size_t block : told[i].blocks) {
      const MatrixXd whitened = roots_[block].triangularView<Eigen::Lower>().solve(shown);
      add_entries(shown, first_[block], columns[i], of_shared);
      add_entries(whitened, columns.back() + first_[block], columns[i], of_whitened);
    }
  }
  basis_ = sparse_of(columns.back(), columns.back(), of_basis);
  shared_ = sparse_of(rows, columns.back(), of_shared);
  if (columns.back() == 0) return;
  of_whitened.insert(of_whitened.end(), of_basis.begin(), of_basis.end());
  factors_ = std::make_unique<Factors>();
  factors_->setPivotThreshold(0.0);  // for the basis in it no column depends on others
  factors_->compute(sparse_of(columns.back() + rows, columns.back(), of_whitened));
}

MatrixXd Noise::whitened(const MatrixXd& rows) const {
  MatrixXd left = rows;
  for (std::size_t i = 0; i < blocks_.size(); ++i)
    roots_[i].triangularView<Eigen::Lower>().solveInPlace(rows_of(left, i));
  if (!factors_) return left;
  MatrixXd all = MatrixXd::Zero(common() + rows.rows(), rows.cols());
  all.bottomRows(rows.rows()) = left;
  all = factors_->matrixQ().adjoint() * MatrixXd(all);
  return all.bottomRows(rows.rows());
}

MatrixXd Noise::whitened_back(const MatrixXd& rows) const {
  MatrixXd back = rows;
  if (factors_) {
    MatrixXd all = MatrixXd::Zero(common() + rows.rows(), rows.cols());
    all.bottomRows(rows.rows()) = rows;
    all = factors_->matrixQ() * MatrixXd(all);
    back = all.bottomRows(rows.rows());
  }
  for (std::size_t i = 0; i < blocks_.size(); ++i)
    roots_[i].triangularView<Eigen::Lower>().transpose().solveInPlace(rows_of(back, i));
  return back;
}

MatrixXd Noise::carried(const MatrixXd& by) const {
  MatrixXd of_shared = (by * shared_).transpose();
  basis_.transpose().triangularView<Eigen::UnitLower>().solveInPlace(of_shared);  // F = G D⁻¹
  return carried_blocks(by, blocks_, 0, blocks_.size(), 0) + of_shared.transpose() * of_shared;
}

std::vector<MatrixXd> Noise::blocks() const {
  std::vector<MatrixXd> all = blocks_;
  for (const CommonError& error : errors_) {
    const MatrixXd square = error.shown * error.shown.transpose();
    for (auto at = error.blocks.begin(); at != error.blocks.end();) {
      const auto next = std::upper_bound(at, error.blocks.end(), *at);
      const auto times = static_cast<double>(next - at);
      all[*at] += times * times * square;
      at = next;
    }
  }
  return all;
}

std::vector<MatrixXd> Noise::blocks_of_inverse() const {
  MatrixXd basis;  // the rows of Q₁ that are V's
  if (factors_) {
    const MatrixXd all = factors_->matrixQ() * MatrixXd::Identity(common() + shared_.rows(), common());
    basis = all.bottomRows(shared_.rows());
  }
  std::vector<MatrixXd> all;
  for (std::size_t i = 0; i < blocks_.size(); ++i) {
    const Index size = blocks_[i].rows();
    MatrixXd left = MatrixXd::Identity(size, size);
    if (factors_) left -= rows_of(basis, i) * rows_of(basis, i).transpose();
    const auto root = roots_[i].triangularView<Eigen::Lower>().transpose();
    const MatrixXd half = root.solve(left);
    all.emplace_back(root.solve(half.transpose()));
  }
  return all;
}

}  // namespace counterspot
